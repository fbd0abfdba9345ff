-- assembly_not_listed. Grain: one row per file and assembly that no assemblies file lists, once assemblies are listed.
with

named as (
    select 'job_parts.csv' as file, assembly from job_parts
    union all
    select 'job_hours.csv', assembly from job_hours
    union all
    select 'callbacks.csv', assembly from callbacks
    union all
    select 'findings.csv', assembly from findings
    union all
    select 'quote_lines.csv', assembly from quote_lines
    union all
    select 'companions.csv', assembly from companions
)

select
    file,
    'assembly' as "column",
    assembly as value,
    'not listed in assemblies, ' || count(*) || ' rows: add it there or mend the spelling' as suggestion
from named
where
    assembly is not null
    and exists (select 1 from assemblies)
    and not exists (select 1 from assemblies where assemblies.assembly = named.assembly)
group by file, assembly
order by file, assembly
