-- job_delays. Grain: one row per delivered job and day on which it took parts, call-backs left out.
-- Days from booking, planned start, start of work and first taking; weight_share adds up to 1 over a job.
with

taken as (
    select job, used_on, count(distinct part) as parts_taken
    from tidy_job_parts
    where used_on is not null and qty_pcs > 0 and coalesce(reason, '') <> 'callback'
    group by job, used_on
)

select
    taken.job,
    jobs.family,
    jobs.scope,
    taken.used_on,
    taken.used_on - bookings.booked_on as booking_days,
    taken.used_on - jobs.planned_start_on as planned_days,
    taken.used_on - jobs.started_on as start_days,
    taken.used_on - min(taken.used_on) over (partition by taken.job) as first_days,
    greatest(
        coalesce(jobs.delivered_on, max(taken.used_on) over (partition by taken.job)),
        max(taken.used_on) over (partition by taken.job)
    ) - min(taken.used_on) over (partition by taken.job) as duration_days,
    taken.parts_taken / sum(taken.parts_taken) over (partition by taken.job) as weight_share
from taken
inner join delivered_jobs as jobs on taken.job = jobs.job
inner join job_bookings as bookings on taken.job = bookings.job
