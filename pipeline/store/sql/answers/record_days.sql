-- record_days. Grain: one row per kind of record that comes again and again, and day on which one was written down.
select 'job_parts' as holds, used_on as day, count(*) as records from tidy_job_parts where used_on is not null group by used_on
union all
select 'job_hours', worked_on, count(*) from tidy_job_hours where worked_on is not null group by worked_on
union all
select 'counts', counted_on, count(*) from counts group by counted_on
union all
select 'orders', ordered_on, count(*) from tidy_orders group by ordered_on
union all
select 'callbacks', reported_on, count(*) from tidy_callbacks group by reported_on
