-- tidy_assembly_parts. Grain: one row per family, assembly and part that a machine of the family holds.
-- A part written for one family serves that family only, and there goes before the same part written for all;
-- piece_hours default to the assembly's bench hours, shared out over its pieces.
-- An action left empty is keep where one is needed, and stays empty in said_: nobody said so.
with

held_pieces as (
    select
        held.family,
        held.assembly,
        coalesce(held.count, 1) as assembly_pcs,
        pieces.* exclude (assembly, family)
    from family_assemblies as held
    inner join assembly_parts as pieces
        on held.assembly = pieces.assembly and (pieces.family is null or pieces.family = held.family)
    qualify row_number() over (
        partition by held.family, held.assembly, pieces.part order by pieces.family nulls last
    ) = 1
)

select
    held_pieces.family,
    held_pieces.assembly,
    held_pieces.assembly_pcs,
    held_pieces.part,
    held_pieces.qty_pcs,
    held_pieces.assembly_pcs * held_pieces.qty_pcs as machine_pcs,
    coalesce(
        held_pieces.piece_hours,
        assemblies.bench_hours
        / sum(held_pieces.qty_pcs) over (partition by held_pieces.family, held_pieces.assembly)
    ) as piece_hours,
    held_pieces.thorough_action as said_thorough_action,
    held_pieces.fix_only_action as said_fix_only_action,
    coalesce(held_pieces.thorough_action, 'keep') as thorough_action,
    coalesce(held_pieces.fix_only_action, 'keep') as fix_only_action
from held_pieces
inner join assemblies on held_pieces.assembly = assemblies.assembly
