-- kit_opened_on_one_side. Grain: one row per day on which a kit went and no piece of it came, or pieces without a kit.
select
    'stock_moves.csv' as file,
    'qty_pcs' as "column",
    moved_on || ': ' || string_agg(part || ' ' || qty_pcs, ', ' order by part, qty_pcs) as value,
    case
        when max(qty_pcs) < 0 then 'a kit was opened and no piece of it came: add a row with + for each part in it'
        else 'pieces came out of a kit that never went: add the kit itself with -'
    end as suggestion
from stock_moves
where kind = 'kit_opened'
group by moved_on
having max(qty_pcs) < 0 or min(qty_pcs) > 0
order by moved_on
