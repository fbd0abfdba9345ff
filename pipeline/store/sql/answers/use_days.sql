-- use_days. Grain: one row per job, part, purpose (the job itself, or a call-back) and day on which pieces were taken
-- that stayed used. What went back cancels the last pieces taken for the same purpose. A taking without a day falls on
-- the delivery of its job; for a call-back, or without a delivery, its day stays empty: unknown.
with

uses as (
    select
        takings.job,
        jobs.family,
        takings.part,
        coalesce(takings.reason = 'callback', false) as is_callback,
        case
            when takings.used_on is not null then takings.used_on
            when takings.reason is distinct from 'callback' then jobs.delivered_on
        end as used_on,
        takings.qty_pcs
    from tidy_job_parts as takings
    inner join tidy_jobs as jobs on takings.job = jobs.job
),

daily as (
    select
        job,
        family,
        part,
        is_callback,
        used_on,
        sum(greatest(qty_pcs, 0)) as taken_pcs,
        sum(qty_pcs) as net_pcs
    from uses
    group by job, family, part, is_callback, used_on
),

summed as (
    select
        *,
        sum(taken_pcs) over (partition by job, part, is_callback order by used_on nulls last) as until_pcs,
        greatest(sum(net_pcs) over (partition by job, part, is_callback), 0) as stayed_pcs
    from daily
)

select
    job,
    family,
    part,
    is_callback,
    used_on,
    cast(least(until_pcs, stayed_pcs) - least(until_pcs - taken_pcs, stayed_pcs) as bigint) as used_pcs
from summed
where least(until_pcs, stayed_pcs) > least(until_pcs - taken_pcs, stayed_pcs)
