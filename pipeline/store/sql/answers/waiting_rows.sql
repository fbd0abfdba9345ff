-- waiting_rows. Grain: one row per row set aside that still waits, whichever load brought its file, with the names it
-- bears as far as they could be mended. A job that was never taken on bears on nothing, so its family is left out.
with

typed as (
    select
        file,
        line,
        holds,
        coalesce(nullif(mended, ''), cells) as bears
    from set_aside_rows
    where load_no = (select max(load_no) from loads)
),

named as (
    select
        file,
        line,
        holds,
        coalesce(bears ->> '$.part', bears ->> '$.adds_part') as part,
        bears ->> '$.job' as job,
        bears ->> '$.machine' as machine,
        bears ->> '$.family' as family,
        bears ->> '$.scope' as scope,
        bears ->> '$.assembly' as assembly,
        bears ->> '$.vendor' as vendor,
        bears ->> '$.order_no' as order_no,
        bears ->> '$.wear_class' as wear_class,
        coalesce(bears ->> '$.status', '') in ('enquiry', 'declined') as is_not_taken_on,
        coalesce(bears ->> '$.delivered_on', '') <> '' as is_delivered,
        try_cast(bears ->> '$.invoiced_amount' as double) as invoiced_amount
    from typed
)

select
    named.file,
    named.line,
    named.holds,
    nullif(named.part, '') as part,
    nullif(named.job, '') as job,
    case
        when named.is_not_taken_on or jobs.status in ('enquiry', 'declined') then null
        else coalesce(jobs.family, machines.family, nullif(named.family, ''))
    end as family,
    coalesce(jobs.scope, nullif(named.scope, '')) as scope,
    nullif(named.assembly, '') as assembly,
    coalesce(orders.vendor, nullif(named.vendor, '')) as vendor,
    nullif(named.order_no, '') as order_no,
    nullif(named.wear_class, '') as wear_class,
    named.is_delivered,
    named.invoiced_amount
from named
left join tidy_jobs as jobs on named.job = jobs.job
left join machines on named.machine = machines.machine
left join orders on named.order_no = orders.order_no
