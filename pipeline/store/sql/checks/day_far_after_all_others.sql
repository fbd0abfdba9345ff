-- day_far_after_all_others. Grain: one row per day, file and column, lone and at least half a year after all others.
-- The newest day recorded is today's default, so that one slip in a year would move every window.
with

days as (
    select 'jobs.csv' as file, 'booked_on' as "column", booked_on as day from jobs
    union all
    select 'jobs.csv', 'started_on', started_on from jobs
    union all
    select 'jobs.csv', 'delivered_on', delivered_on from jobs
    union all
    select 'job_parts.csv', 'used_on', used_on from job_parts
    union all
    select 'job_hours.csv', 'worked_on', worked_on from job_hours
    union all
    select 'orders.csv', 'ordered_on', ordered_on from orders
    union all
    select 'order_lines.csv', 'received_on', received_on from order_lines
    union all
    select 'counts.csv', 'counted_on', counted_on from counts
    union all
    select 'callbacks.csv', 'reported_on', reported_on from callbacks
),

newest as (
    select distinct day from days where day is not null order by day desc limit 2
)

select distinct
    days.file,
    days."column",
    cast(days.day as varchar) as value,
    'the day before it in all the records is ' || (select min(day) from newest) || '; a slip in the year?' as suggestion
from days
where
    days.day = (select max(day) from newest)
    and days.day - (select min(day) from newest) > 183
order by days.file, days."column"
