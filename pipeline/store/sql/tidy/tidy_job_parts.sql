-- tidy_job_parts. Grain: one row per taking of a part for a job, its source said.
select
    job,
    part,
    qty_pcs,
    used_on,
    assembly,
    coalesce(source, 'new') as source,
    reason,
    batch,
    recorded_in
from job_parts
