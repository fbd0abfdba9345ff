-- tidy_assembly_parts. Grain: one row per family, assembly and part that a machine of the family holds.
-- A part written for one family serves that family only; piece_hours default to the assembly's, shared out.
select
    held.family,
    held.assembly,
    coalesce(held.count, 1) as assembly_pcs,
    pieces.part,
    pieces.qty_pcs,
    coalesce(held.count, 1) * pieces.qty_pcs as machine_pcs,
    coalesce(
        pieces.piece_hours,
        assemblies.bench_hours / sum(pieces.qty_pcs) over (partition by held.family, held.assembly)
    ) as piece_hours,
    coalesce(pieces.thorough_action, 'keep') as thorough_action,
    coalesce(pieces.fix_only_action, 'keep') as fix_only_action
from family_assemblies as held
inner join assemblies on held.assembly = assemblies.assembly
inner join assembly_parts as pieces
    on held.assembly = pieces.assembly and (pieces.family is null or pieces.family = held.family)
