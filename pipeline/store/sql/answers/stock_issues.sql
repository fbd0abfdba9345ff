-- stock_issues. Grain: one row per job, part and purpose (the job itself, or a call-back) whose takings and returns
-- net to pieces used, and per outward move of the shop's own pieces. is_from_shelf is false for customers' pieces and
-- for salvaged or made ones that were never put on the shelf: they cost nothing here.
with

taken as (
    select
        uses.job,
        uses.part,
        coalesce(uses.reason = 'callback', false) as is_callback,
        uses.source = 'new' or (shelved.part is not null and uses.source <> 'customer') as is_from_shelf,
        uses.qty_pcs,
        coalesce(uses.used_on, jobs.delivered_on, jobs.started_on, jobs.booked_on) as used_on
    from tidy_job_parts as uses
    inner join tidy_jobs as jobs on uses.job = jobs.job
    left join shelved_sources as shelved on uses.part = shelved.part and uses.source = shelved.source
)

select
    job,
    part,
    is_callback,
    is_from_shelf,
    cast(sum(qty_pcs) as bigint) as pcs,
    min(used_on) as used_on,
    'used' as kind
from taken
group by job, part, is_callback, is_from_shelf
having sum(qty_pcs) <> 0
union all
select null as job, part, false as is_callback, true as is_from_shelf, -qty_pcs as pcs, moved_on as used_on, kind
from stock_moves
where qty_pcs < 0 and coalesce(owner, 'shop') = 'shop'
order by used_on, job, part, pcs
