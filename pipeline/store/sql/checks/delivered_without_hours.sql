-- delivered_without_hours. Grain: one row per delivered job without hours, once hours are kept at all.
select
    'jobs.csv' as file,
    'job' as "column",
    jobs.job as value,
    'no hours are recorded for this delivered job: its earnings per hour stay unknown' as suggestion
from tidy_jobs as jobs
where
    jobs.status = 'delivered'
    and exists (select 1 from job_hours)
    and not exists (select 1 from job_hours where job_hours.job = jobs.job)
order by jobs.job
