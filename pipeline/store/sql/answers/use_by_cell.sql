-- use_by_cell. Grain: one row per family, scope and part that the family can take, its jobs or none.
-- What call-backs took is left out. jobs_seen counts known jobs; jobs_delivered the unknown ones too, as if they had
-- used nothing. set_uses took exactly what one machine holds, where that is several; sums of extra pieces are over the
-- other uses. machine_pcs, what one machine holds, is empty where no list says.
with

scopes as (
    select distinct scope
    from tidy_jobs
    where status in ('booked', 'in_progress', 'delivered')
),

jobs as (
    select family, scope, count(*) filter (is_use_known) as jobs_seen, count(*) as jobs_delivered
    from delivered_jobs
    group by family, scope
),

cells as (
    select grid.family, scopes.scope, grid.part, lists.machine_pcs, jobs.jobs_seen, jobs.jobs_delivered
    from family_parts as grid
    cross join scopes
    left join jobs on grid.family = jobs.family and scopes.scope = jobs.scope
    left join machine_pieces as lists on grid.family = lists.family and grid.part = lists.part
),

uses as (
    select
        cells.*,
        used.job,
        used.used_pcs,
        used.reason,
        coalesce(used.used_pcs > 1 and used.used_pcs = cells.machine_pcs, false) as is_set
    from cells
    left join job_work_use as used
        on cells.family = used.family and cells.scope = used.scope and cells.part = used.part
            and used.status = 'delivered'
)

select
    family,
    scope,
    part,
    coalesce(any_value(jobs_seen), 0) as jobs_seen,
    coalesce(any_value(jobs_delivered), 0) as jobs_delivered,
    count(job) as jobs_with_use,
    coalesce(sum(used_pcs), 0) as used_pcs,
    coalesce(max(used_pcs), 0) as most_pcs,
    count(*) filter (is_set) as set_uses,
    coalesce(sum(used_pcs - 1) filter (not is_set), 0) as extra_pcs,
    coalesce(sum((used_pcs - 1) * (used_pcs - 1)) filter (not is_set), 0) as extra_square_pcs,
    count(*) filter (reason = 'failed') as failed_uses,
    count(*) filter (reason = 'policy') as policy_uses,
    count(*) filter (reason = 'companion') as companion_uses,
    count(job) filter (reason is null) as unknown_reason_uses,
    any_value(machine_pcs) as machine_pcs
from uses
group by family, scope, part
