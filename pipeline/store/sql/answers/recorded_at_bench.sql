-- recorded_at_bench. Grain: one row per taking or count recorded in the notebook instead of the folder.
select
    'taken' as record,
    used_on as recorded_on,
    job,
    part,
    qty_pcs,
    source,
    reason
from job_parts
where recorded_in = 'notebook'
union all
select
    'counted' as record,
    counted_on as recorded_on,
    null as job,
    part,
    qty_pcs,
    null as source,
    null as reason
from counts
where recorded_in = 'notebook'
order by recorded_on desc, part
