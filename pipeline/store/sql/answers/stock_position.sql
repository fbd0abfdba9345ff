-- stock_position. Grain: one row per part: pieces on the shelf and on order as the records have them.
-- The last day of counting is the start; movements of that day are taken as before the count. Without a count or any
-- arrival on_hand_pcs is empty: unknown, not zero. doubt says in short why the figure may be wrong.
with

bins as (
    select
        counts.part,
        count(distinct counts.shelf) filter (counts.counted_on = last_day.counted_on) as bins,
        count(distinct counts.shelf) as all_bins
    from counts
    inner join stock_last_day as last_day on counts.part = last_day.part
    group by counts.part
),

coming as (
    select part, sum(open_pcs) as on_order_pcs
    from open_lines
    group by part
),

below as (
    select
        part,
        case when is_below_now then 'more taken than was there: ' else 'more was taken at one time than was there: ' end
        || case when cause = 'count it' then cause else 'perhaps ' || cause end as doubt
    from negative_positions
    where is_since_count
)

select
    parts.part,
    last_day.on_hand_pcs,
    coalesce(coming.on_order_pcs, 0) as on_order_pcs,
    last_day.counted_on,
    case
        when last_day.on_hand_pcs < 0 then below.doubt
        when last_day.on_hand_pcs is null then 'never counted'
        when last_day.counted_on is null then 'never counted: reckoned from what came and went'
        when below.doubt is not null then below.doubt
        when bins.bins > 0 and bins.all_bins > bins.bins then 'not every bin was counted on the last day'
    end as doubt
from tidy_parts as parts
left join stock_last_day as last_day on parts.part = last_day.part
left join bins on parts.part = bins.part
left join coming on parts.part = coming.part
left join below on parts.part = below.part
