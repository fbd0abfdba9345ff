-- job_work_use. Grain: one row per job and part that its own work used: what call-backs took later is left out.
-- Otherwise as job_use. reason is the one most pieces were taken for, empty where none was written: unknown.
with

by_reason as (
    select
        job,
        part,
        reason,
        sum(qty_pcs) as used_pcs,
        sum(qty_pcs) filter (source <> 'customer') as own_pcs
    from tidy_job_parts
    where reason is distinct from 'callback'
    group by job, part, reason
),

by_part as (
    select
        job,
        part,
        sum(used_pcs) as used_pcs,
        greatest(coalesce(sum(own_pcs), 0), 0) as own_pcs,
        arg_max(reason, (used_pcs, reason)) filter (reason is not null and used_pcs > 0) as reason
    from by_reason
    group by job, part
)

select
    by_part.job,
    jobs.family,
    jobs.scope,
    jobs.status,
    by_part.part,
    by_part.used_pcs,
    by_part.own_pcs,
    by_part.reason
from by_part
inner join tidy_jobs as jobs on by_part.job = jobs.job
where by_part.used_pcs > 0
