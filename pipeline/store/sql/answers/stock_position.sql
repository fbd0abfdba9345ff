-- stock_position. Grain: one row per part: pieces on the shelf and on order as the records have them.
-- The last day of counting is the start; movements of that day are taken as before the count. Without a count or any
-- arrival on_hand_pcs is empty: unknown, not zero.
with

last_day as (
    select part, max(counted_on) as counted_on
    from counts
    group by part
),

counted as (
    select
        counts.part,
        last_day.counted_on,
        sum(counts.qty_pcs) filter (where counts.counted_on = last_day.counted_on) as counted_pcs,
        count(distinct counts.shelf) filter (where counts.counted_on = last_day.counted_on) as bins,
        count(distinct counts.shelf) as all_bins
    from counts
    inner join last_day on counts.part = last_day.part
    group by counts.part, last_day.counted_on
),

moved as (
    select
        movements.part,
        sum(movements.qty_pcs) as since_pcs,
        count(*) filter (where movements.qty_pcs > 0) as arrivals
    from stock_movements as movements
    left join counted on movements.part = counted.part
    where counted.counted_on is null or movements.moved_on > counted.counted_on
    group by movements.part
),

coming as (
    select part, sum(open_pcs) as on_order_pcs
    from open_lines
    group by part
)

select
    parts.part,
    case
        when counted.part is not null or moved.arrivals > 0
            then coalesce(counted.counted_pcs, 0) + coalesce(moved.since_pcs, 0)
    end as on_hand_pcs,
    coalesce(coming.on_order_pcs, 0) as on_order_pcs,
    counted.counted_on,
    case
        when counted.part is null and coalesce(moved.arrivals, 0) = 0 then 'never counted'
        when counted.part is null then 'never counted: reckoned from what came and went'
        when counted.counted_pcs + coalesce(moved.since_pcs, 0) < 0 then 'more taken than was there: count it'
        when counted.bins > 0 and counted.all_bins > counted.bins then 'not every bin was counted on the last day'
    end as doubt
from tidy_parts as parts
left join counted on parts.part = counted.part
left join moved on parts.part = moved.part
left join coming on parts.part = coming.part
