-- family_parts. Grain: one row per family and part that a machine of the family can take.
-- Taken by one of its jobs, or listed for it. Parts no job of any family ever took are left out:
-- nothing is known of their use.
with

seen as (
    select distinct family, part
    from job_use
    where status <> 'declined'
),

listed as (
    select distinct listed.family, listed.part
    from tidy_assembly_parts as listed
    where listed.part in (select part from seen)
)

select family, part from seen
union
select family, part from listed
