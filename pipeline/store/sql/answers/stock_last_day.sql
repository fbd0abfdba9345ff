-- stock_last_day. Grain: one row per part that moved or was counted: what its book says today.
-- The newest count and what moved after its day; never counted: what the book begins with and all that moved.
with

counted as (
    select part, counted_on, sum(qty_pcs) as counted_pcs
    from counts
    group by part, counted_on
    qualify counted_on = max(counted_on) over (partition by part)
),

moved as (
    select movements.part, sum(movements.qty_pcs) as moved_pcs
    from stock_movements as movements
    left join counted on movements.part = counted.part
    where counted.part is null or movements.moved_on > counted.counted_on
    group by movements.part
)

select
    starts.part,
    counted.counted_on,
    cast(
        coalesce(counted.counted_pcs, starts.implied_opening_pcs) + coalesce(moved.moved_pcs, 0) as bigint
    ) as on_hand_pcs
from stock_starts as starts
left join counted on starts.part = counted.part
left join moved on starts.part = moved.part
