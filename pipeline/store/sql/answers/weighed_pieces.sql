-- weighed_pieces. Grain: one row per machine (a typical one of a family; an open job with findings) and place of a part
-- in it, for which fixing only and a thorough rebuild are weighed. Where no list says, the assembly is empty.
with

typical as (
    select family, assembly, part from part_places
    union all
    select taken.family, null as assembly, taken.part
    from family_parts as taken
    where not exists (
        select 1 from part_places as listed where listed.family = taken.family and listed.part = taken.part
    )
),

opened as (
    select distinct jobs.job, jobs.family
    from open_findings as findings
    inner join tidy_jobs as jobs on findings.job = jobs.job
)

select null as job, family, assembly, part from typical
union
select opened.job, opened.family, typical.assembly, typical.part
from opened
inner join typical on opened.family = typical.family
union
select opened.job, opened.family, findings.assembly, findings.part
from opened
inner join open_findings as findings on opened.job = findings.job
