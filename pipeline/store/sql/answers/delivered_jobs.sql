-- delivered_jobs. Grain: one row per delivered job.
-- A job without any taking of its own (a call-back's is none) is unknown unless the owner wrote that it used none:
-- missing is not zero.
with

taken as (
    select job, min(used_on) as first_used_on
    from tidy_job_parts
    where reason is distinct from 'callback'
    group by job
)

select
    jobs.job,
    jobs.family,
    jobs.scope,
    jobs.booked_on,
    jobs.planned_start_on,
    coalesce(jobs.started_on, taken.first_used_on) as started_on,
    jobs.delivered_on,
    taken.job is not null as has_parts,
    taken.job is not null or jobs.no_parts_used = 'yes' as is_use_known
from tidy_jobs as jobs
left join taken on jobs.job = taken.job
where jobs.status = 'delivered'
