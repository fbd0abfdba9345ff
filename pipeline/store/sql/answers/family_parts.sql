-- family_parts. Grain: one row per family and part that a machine of the family can take.
-- Taken by one of its jobs, or listed for it, whether or not any job ever took it: a listed part that none took yet has
-- the use of its wear class and of what the owner means to do with it.
with

seen as (
    select distinct family, part
    from job_use
    where status <> 'declined'
),

listed as (
    select distinct listed.family, listed.part
    from tidy_assembly_parts as listed
)

select family, part from seen
union
select family, part from listed
