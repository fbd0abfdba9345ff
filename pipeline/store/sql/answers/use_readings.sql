-- use_readings. Grain: one row per family and scope with a delivered job, under both readings of unknown jobs.
-- Leaving unknown jobs out biases use upward if they used nothing; counting them as none biases it downward.
with

used as (
    select job, count(*) as used_parts, sum(used_pcs) as used_pcs
    from job_work_use
    group by job
)

select
    jobs.family,
    jobs.scope,
    count(*) as jobs_delivered,
    count(*) filter (jobs.is_use_known) as jobs_known,
    count(*) filter (not jobs.is_use_known) as jobs_unknown,
    sum(used.used_pcs) / nullif(count(*) filter (jobs.is_use_known), 0) as pcs_per_job_unknown_left_out,
    coalesce(sum(used.used_pcs), 0) / count(*) as pcs_per_job_unknown_as_none,
    sum(used.used_parts) / nullif(count(*) filter (jobs.is_use_known), 0) as parts_per_job_unknown_left_out,
    coalesce(sum(used.used_parts), 0) / count(*) as parts_per_job_unknown_as_none
from delivered_jobs as jobs
left join used on jobs.job = used.job
group by jobs.family, jobs.scope
