-- unpriced_parts. Grain: one row per part that was used and has no price at all: no purchase, no offer, no remembered
-- cost above 0. What it costs is unknown, not nothing.
with

used as (
    select part, sum(qty_pcs) as used_pcs, count(distinct job) as jobs
    from tidy_job_parts
    where source <> 'customer'
    group by part
)

select
    parts.part,
    parts.description,
    cast(used.used_pcs as bigint) as used_pcs,
    cast(coalesce(year_use.year_pcs, 0) as bigint) as year_pcs,
    used.jobs
from tidy_parts as parts
inner join used on parts.part = used.part
left join year_use on parts.part = year_use.part
where parts.part not in (select part from part_prices)
order by year_pcs desc, used_pcs desc, parts.part
