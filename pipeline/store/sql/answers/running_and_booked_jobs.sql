-- running_and_booked_jobs. Grain: one row per job in the shop or on the books, not yet delivered.
select
    jobs.job,
    jobs.family,
    jobs.scope,
    jobs.status,
    bookings.booked_on,
    jobs.planned_start_on,
    case
        when jobs.status = 'in_progress'
            then coalesce(jobs.started_on, taken.first_used_on, jobs.planned_start_on, bookings.booked_on)
    end as started_on,
    taken.first_used_on
from tidy_jobs as jobs
inner join job_bookings as bookings on jobs.job = bookings.job
left join (
    select job, min(used_on) as first_used_on from tidy_job_parts group by job
) as taken on jobs.job = taken.job
where jobs.status in ('in_progress', 'booked')
