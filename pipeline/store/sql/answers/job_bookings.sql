-- job_bookings. Grain: one row per job taken on, with the day that stands for its booking.
-- Enquiries are not bookings yet, declined jobs are none. A job without any date keeps an empty day.
select
    jobs.job,
    jobs.family,
    jobs.scope,
    jobs.status,
    least(
        coalesce(jobs.booked_on, jobs.started_on, taken.first_used_on, jobs.delivered_on),
        coalesce(jobs.started_on, taken.first_used_on, jobs.delivered_on, jobs.booked_on)
    ) as booked_on,
    jobs.booked_on is null as is_day_assumed
from tidy_jobs as jobs
left join (
    select job, min(used_on) as first_used_on from tidy_job_parts group by job
) as taken on jobs.job = taken.job
where jobs.status in ('booked', 'in_progress', 'delivered')
