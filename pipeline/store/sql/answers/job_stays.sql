-- job_stays. Grain: one row per job that was in the shop: from its start (else its first taking, else its delivery) to
-- its delivery; empty while it runs. A job without any of these days is not here.
select
    jobs.job,
    jobs.family,
    jobs.scope,
    coalesce(jobs.started_on, taken.first_used_on, jobs.delivered_on) as from_on,
    jobs.delivered_on as to_on
from tidy_jobs as jobs
left join (
    select job, min(used_on) as first_used_on from tidy_job_parts group by job
) as taken on jobs.job = taken.job
where
    jobs.status in ('in_progress', 'delivered')
    and coalesce(jobs.started_on, taken.first_used_on, jobs.delivered_on) is not null
