-- count_in_packs. Grain: one row per part and day counted whose pieces are the book's, divided or multiplied by a pack.
select
    'counts.csv' as file,
    'qty_pcs' as "column",
    part || ', ' || counted_on || ': ' || counted_pcs as value,
    'the book had ' || book_pcs || case
        when counted_pcs < book_pcs then '; packs of ' || pack_pcs || ' counted as pieces?'
        else '; it may have packs of ' || pack_pcs || ' as pieces: see its orders and takings'
    end as suggestion
from counts_far_off
where pack_pcs is not null
order by counted_on, part
