-- pieces_watched. Grain: one row per delivered job with known use and part: pieces that left the shop new, and pieces
-- left in place. Salvaged pieces have an age of their own, so they count as kept; customers' pieces are not watched.
with

fitted as (
    select
        uses.job,
        uses.part,
        greatest(sum(uses.qty_pcs) filter (where uses.source in ('new', 'made')), 0) as new_pcs,
        greatest(sum(uses.qty_pcs) filter (where uses.source = 'salvage'), 0) as salvage_pcs,
        greatest(sum(uses.qty_pcs), 0) as all_pcs
    from tidy_job_parts as uses
    where coalesce(uses.reason, '') <> 'callback'
    group by uses.job, uses.part
),

held as (
    select jobs.job, lists.part, sum(lists.machine_pcs) as machine_pcs
    from jobs_watched as jobs
    inner join tidy_assembly_parts as lists on jobs.family = lists.family
    group by jobs.job, lists.part
),

pieces as (
    select
        coalesce(held.job, fitted.job) as job,
        coalesce(held.part, fitted.part) as part,
        coalesce(fitted.new_pcs, 0) as new_pcs,
        greatest(coalesce(held.machine_pcs, 0) - coalesce(fitted.all_pcs, 0), 0)
        + coalesce(fitted.salvage_pcs, 0) as kept_pcs
    from held
    full join fitted on held.job = fitted.job and held.part = fitted.part
)

select
    pieces.job,
    pieces.part,
    parts.wear_class,
    cast(pieces.new_pcs as bigint) as new_pcs,
    cast(pieces.kept_pcs as bigint) as kept_pcs
from pieces
inner join jobs_watched on pieces.job = jobs_watched.job
inner join tidy_parts as parts on pieces.part = parts.part
where pieces.new_pcs > 0 or pieces.kept_pcs > 0
