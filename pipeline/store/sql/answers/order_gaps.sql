-- order_gaps. Grain: one row per part that was ordered at all: on how many days, the longest stretch between two of
-- them, and the newest. What was ordered that often could be had at least that often.
with

ordered as (
    select distinct lines.part, orders.ordered_on
    from tidy_order_lines as lines
    inner join tidy_orders as orders on lines.order_no = orders.order_no
),

stretches as (
    select
        part,
        ordered_on,
        ordered_on - lag(ordered_on) over (partition by part order by ordered_on) as gap_days
    from ordered
)

select part, count(*) as order_days, max(gap_days) as longest_gap_days, max(ordered_on) as last_ordered_on
from stretches
group by part
