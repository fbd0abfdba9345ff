-- use_by_cell. Grain: one row per family, scope and part that the family can take, its jobs or none.
-- jobs_seen counts known jobs; jobs_delivered counts the unknown ones too, as if they had used nothing.
-- machine_pcs, what one machine holds, is empty where no list says.
with

scopes as (
    select distinct scope
    from tidy_jobs
    where status in ('booked', 'in_progress', 'delivered')
),

jobs as (
    select
        family,
        scope,
        count(*) filter (is_use_known) as jobs_seen,
        count(*) as jobs_delivered
    from delivered_jobs
    group by family, scope
),

used as (
    select
        family,
        scope,
        part,
        count(*) as jobs_with_use,
        sum(used_pcs) as used_pcs,
        sum(used_pcs - 1) as extra_pcs,
        sum((used_pcs - 1) * (used_pcs - 1)) as extra_square_pcs,
        max(used_pcs) as most_pcs
    from job_use
    where status = 'delivered'
    group by family, scope, part
),

held as (
    select family, part, sum(machine_pcs) as machine_pcs
    from tidy_assembly_parts
    group by family, part
)

select
    grid.family,
    scopes.scope,
    grid.part,
    coalesce(jobs.jobs_seen, 0) as jobs_seen,
    coalesce(jobs.jobs_delivered, 0) as jobs_delivered,
    coalesce(used.jobs_with_use, 0) as jobs_with_use,
    coalesce(used.used_pcs, 0) as used_pcs,
    coalesce(used.extra_pcs, 0) as extra_pcs,
    coalesce(used.extra_square_pcs, 0) as extra_square_pcs,
    coalesce(used.most_pcs, 0) as most_pcs,
    held.machine_pcs
from family_parts as grid
cross join scopes
left join jobs on grid.family = jobs.family and scopes.scope = jobs.scope
left join used on grid.family = used.family and scopes.scope = used.scope and grid.part = used.part
left join held on grid.family = held.family and grid.part = held.part
