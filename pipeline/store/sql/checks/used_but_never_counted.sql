-- used_but_never_counted. Grain: one row per part that jobs use and nobody ever counted, where most parts are counted.
with

used as (
    select uses.part, uses.part in (select part from counts) as is_counted
    from tidy_job_parts as uses
    where uses.source <> 'customer'
    group by uses.part
)

select
    'counts.csv' as file,
    'part' as "column",
    part as value,
    'jobs use it, and it was never counted: what is there is only reckoned, or unknown' as suggestion
from used
where not is_counted and (select avg(is_counted::int) from used) > 0.5
order by part
