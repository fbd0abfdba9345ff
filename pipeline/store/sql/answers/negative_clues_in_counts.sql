-- negative_clues_in_counts. Grain: one row per part, count (its own, or that of a part that interchanges with it) and
-- reason to think that more pieces were there than the book has: from from_on to to_on up to pcs more. rank 1 tells the
-- most. A part whose book has no written opening and no count before it gets one row, too.
with

differing as materialized (
    select *, coalesce(counted_before_on + 1, date '0001-01-01') as since_on
    from stock_counts
    where count_difference_pcs <> 0
)

select part, 5 as rank, 'pieces there before anyone counted' as cause,
    date '0001-01-01' as from_on, coalesce(first_counted_on, date '9999-12-31') as to_on, 1000000000000 as pcs,
    'no opening and no count stand before it: what lay there then nobody wrote down' as words
from stock_starts
where start_from <> 'opening'
union all
select pairs.part, 6 as rank, 'an interchanging part was taken' as cause,
    differing.since_on as from_on, differing.counted_on as to_on, differing.count_difference_pcs as pcs,
    pairs.other || ', which interchanges with it, was counted above its book (' || differing.count_difference_pcs
    || ') on ' || differing.counted_on || ': that one may have been taken, and this one written down' as words
from interchange_pairs as pairs
inner join differing on pairs.other = differing.part
where differing.count_difference_pcs > 0
union all
select part, 9 as rank, 'the count before it missed some' as cause,
    counted_on + 1 as from_on, coalesce(counted_next_on, date '9999-12-31') as to_on, -count_difference_pcs as pcs,
    'the count of ' || counted_on || ' found fewer than the book had (' || -count_difference_pcs
    || '): it may have missed some' as words
from differing
where count_difference_pcs < 0
union all
select part, 10 as rank, 'pieces came that nobody wrote down' as cause,
    since_on as from_on, counted_on as to_on, count_difference_pcs as pcs,
    'the count of ' || counted_on || ' found more than the book had (' || count_difference_pcs
    || '): pieces came that nobody wrote down' as words
from differing
where count_difference_pcs > 0
