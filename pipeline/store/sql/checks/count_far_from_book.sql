-- count_far_from_book. Grain: one row per part and day counted far from what the running book had.
-- A count that fits a pack has a remark of its own (count_in_packs).
select
    'counts.csv' as file,
    'qty_pcs' as "column",
    part || ', ' || counted_on || ': ' || counted_pcs as value,
    'the book had ' || book_pcs || ': count it again, or write down what came or went' as suggestion
from counts_far_off
where pack_pcs is null
order by counted_on, part
