-- job_clock_hours. Grain: one row per job with hours written down: clock hours of the job itself, of its call-backs,
-- and hours billed where anyone wrote those down.
select
    job,
    sum(hours) filter (where stage <> 'callback') as job_hours,
    coalesce(sum(hours) filter (where stage = 'callback'), 0) as callback_hours,
    sum(billed_hours) filter (where stage <> 'callback') as billed_hours,
    count(*) as entries,
    min(worked_on) as first_on,
    max(worked_on) as last_on
from tidy_job_hours
group by job
