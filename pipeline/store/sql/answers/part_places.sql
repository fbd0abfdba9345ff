-- part_places. Grain: one row per family, part and assembly of its list: what one machine holds there, and the share
-- of the part's recorded takings that went there. Without takings by assembly, in proportion to what is held.
with

went as (
    select jobs.family, uses.part, uses.assembly, greatest(sum(uses.qty_pcs), 0) as taken_pcs
    from tidy_job_parts as uses
    inner join tidy_jobs as jobs on uses.job = jobs.job
    where uses.assembly is not null
    group by jobs.family, uses.part, uses.assembly
),

placed as (
    select
        lists.family,
        lists.assembly,
        lists.part,
        lists.assembly_pcs,
        lists.machine_pcs,
        lists.piece_hours,
        lists.thorough_action,
        lists.fix_only_action,
        coalesce(went.taken_pcs, 0) as taken_pcs
    from tidy_assembly_parts as lists
    left join went on lists.family = went.family and lists.part = went.part and lists.assembly = went.assembly
)

select
    placed.*,
    case
        when sum(taken_pcs) over in_family > 0 then taken_pcs / sum(taken_pcs) over in_family
        else machine_pcs / sum(machine_pcs) over in_family
    end as place_share
from placed
window in_family as (partition by family, part)
