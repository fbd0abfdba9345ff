-- counts_far_off. Grain: one row per part and day counted at least five pieces, and half of the larger figure, off the
-- running book. pack_pcs is a pack of the part by which one of the two is the other, within a tenth; else empty.
with

packs as (
    select distinct part, pack_pcs
    from tidy_offers
    where pack_pcs > 1
),

far as (
    select
        part,
        counted_on,
        counted_pcs,
        book_pcs,
        count_difference_pcs,
        least(counted_pcs, book_pcs) as less_pcs,
        greatest(counted_pcs, book_pcs) as more_pcs
    from stock_counts
    where abs(count_difference_pcs) >= greatest(5, 0.5 * greatest(book_pcs, counted_pcs))
)

select
    far.part,
    far.counted_on,
    far.counted_pcs,
    far.book_pcs,
    far.count_difference_pcs,
    packs.pack_pcs
from far
left join packs
    on far.part = packs.part
    and far.less_pcs > 0
    and abs(far.less_pcs * packs.pack_pcs - far.more_pcs) <= 0.1 * far.more_pcs
qualify row_number() over (
    partition by far.part, far.counted_on order by abs(far.less_pcs * packs.pack_pcs - far.more_pcs), packs.pack_pcs
) = 1
