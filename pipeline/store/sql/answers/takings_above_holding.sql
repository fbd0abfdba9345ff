-- takings_above_holding. Grain: one row per job and part of which it took more than twice what its machine holds, and
-- more than twice what any other job took.
with

held as (
    select family, part, sum(machine_pcs) as machine_pcs
    from tidy_assembly_parts
    group by family, part
),

taken as (
    select
        job,
        family,
        part,
        used_pcs,
        first_used_on,
        lead(used_pcs) over (partition by part order by used_pcs desc) as next_most_pcs
    from job_use
    qualify row_number() over (partition by part order by used_pcs desc) = 1
)

select taken.job, taken.family, taken.part, taken.used_pcs, taken.first_used_on, held.machine_pcs, taken.next_most_pcs
from taken
inner join held on taken.family = held.family and taken.part = held.part
where taken.used_pcs > 2 * held.machine_pcs and taken.used_pcs > 2 * taken.next_most_pcs
