-- tidy_jobs. Grain: one row per job, its status said and its warranty filled by the shop's own.
select
    jobs.job,
    jobs.family,
    jobs.machine,
    jobs.scope,
    coalesce(
        jobs.status,
        case
            when jobs.delivered_on is not null then 'delivered'
            when jobs.started_on is not null then 'in_progress'
            else 'booked'
        end
    ) as status,
    jobs.booked_on,
    jobs.planned_start_on,
    jobs.promised_on,
    jobs.started_on,
    jobs.delivered_on,
    jobs.setting,
    jobs.plays,
    coalesce(jobs.plays_quality, 'unknown') as plays_quality,
    coalesce(jobs.no_parts_used, 'no') as no_parts_used,
    coalesce(jobs.price_kind, 'estimate') as price_kind,
    jobs.quoted_amount,
    jobs.quoted_hours,
    jobs.quoted_parts_amount,
    jobs.invoiced_amount,
    coalesce(jobs.warranty_days, try_cast(try_cast(warranty.value as double) as integer)) as warranty_days
from jobs
inner join tidy_settings as warranty on warranty.key = 'warranty_days'
