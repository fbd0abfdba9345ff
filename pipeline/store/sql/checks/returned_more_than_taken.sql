-- returned_more_than_taken. Grain: one row per job and part with more pieces put back than taken.
select
    'job_parts.csv' as file,
    'qty_pcs' as "column",
    job || ', ' || part || ': ' || sum(qty_pcs) as value,
    'more pieces went back to the shelf than were taken for this job' as suggestion
from job_parts
group by job, part
having sum(qty_pcs) < 0
order by job, part
