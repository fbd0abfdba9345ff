-- callback_on_job_not_delivered. Grain: one row per job that came back without ever being delivered.
select
    'callbacks.csv' as file,
    'job' as "column",
    callbacks.job as value,
    'the job is ' || replace(jobs.status, '_', ' ') || ', so nothing can have come back: is its delivery missing?'
    as suggestion
from callbacks
inner join tidy_jobs as jobs on callbacks.job = jobs.job
where jobs.status <> 'delivered'
group by callbacks.job, jobs.status
order by callbacks.job
