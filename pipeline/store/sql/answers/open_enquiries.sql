-- open_enquiries. Grain: one row per enquiry not yet answered.
select
    job,
    family,
    scope,
    planned_start_on
from tidy_jobs
where status = 'enquiry'
