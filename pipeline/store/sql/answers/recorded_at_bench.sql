-- recorded_at_bench. Grain: one row per taking, count or delivery recorded in the notebook instead of the folder.
select
    'taken' as record,
    used_on as recorded_on,
    job,
    null as order_no,
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
    null as order_no,
    part,
    qty_pcs,
    null as source,
    null as reason
from counts
where recorded_in = 'notebook'
union all
select
    'received' as record,
    received_on as recorded_on,
    null as job,
    order_no,
    part,
    received_pcs as qty_pcs,
    null as source,
    null as reason
from receipts
where recorded_in = 'notebook'
order by recorded_on desc, part
