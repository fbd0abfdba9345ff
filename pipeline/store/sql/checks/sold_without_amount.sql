-- sold_without_amount. Grain: one row per part and day sold without an amount.
select
    'stock_moves.csv' as file,
    'amount' as "column",
    part || ': ' || -sum(qty_pcs) || ' on ' || moved_on as value,
    'sold without an amount: what it brought stays unknown' as suggestion
from stock_moves
where kind = 'sold' and amount is null
group by part, moved_on
order by moved_on, part
