-- machine_pieces. Grain: one row per family and part listed for it: what one machine holds, what the owner does to it.
-- A part listed in several assemblies shows the action that uses most; empty where none is said.
with

ranked as (
    select
        family,
        part,
        machine_pcs,
        list_position(['keep', 'clean', 'recondition', 'make', 'replace'], said_thorough_action) as thorough_rank,
        list_position(['keep', 'clean', 'recondition', 'make', 'replace'], said_fix_only_action) as fix_only_rank
    from tidy_assembly_parts
)

select
    family,
    part,
    sum(machine_pcs) as machine_pcs,
    ['keep', 'clean', 'recondition', 'make', 'replace'][max(thorough_rank)] as thorough_action,
    ['keep', 'clean', 'recondition', 'make', 'replace'][max(fix_only_rank)] as fix_only_action
from ranked
group by family, part
