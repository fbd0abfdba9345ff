-- tidy_job_hours. Grain: one row per entry of hours; a stage nobody wrote down is 'unknown'.
select
    job,
    hours,
    worked_on,
    coalesce(stage, 'unknown') as stage,
    assembly,
    billed_hours
from job_hours
