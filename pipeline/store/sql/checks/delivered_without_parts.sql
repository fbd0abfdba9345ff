-- delivered_without_parts. Grain: one row per delivered job without a part taken, unless it says none was used.
select
    'jobs.csv' as file,
    'job' as "column",
    jobs.job as value,
    'no part is recorded for this delivered job: add its parts, or write no_parts_used = yes' as suggestion
from tidy_jobs as jobs
where
    jobs.status = 'delivered'
    and jobs.no_parts_used = 'no'
    and not exists (select 1 from job_parts where job_parts.job = jobs.job)
order by jobs.job
