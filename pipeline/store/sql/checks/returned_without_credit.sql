-- returned_without_credit. Grain: one row per part and day returned to a vendor without the amount credited.
select
    'stock_moves.csv' as file,
    'amount' as "column",
    part || ': ' || -sum(qty_pcs) || ' on ' || moved_on as value,
    'returned to the vendor without an amount: write the credit, or 0 where none was given' as suggestion
from stock_moves
where kind = 'returned_to_vendor' and amount is null
group by part, moved_on
order by moved_on, part
