-- delivered_job_records. Grain: one row per month of delivery and kind of record, with the number of jobs.
-- Whether delivered jobs say which parts they used: forecasts rest on those that do.
with

delivered as (
    select
        jobs.job,
        date_trunc('month', jobs.delivered_on)::date as month_on,
        jobs.no_parts_used = 'yes' as is_none_used,
        exists (select 1 from job_parts where job_parts.job = jobs.job) as has_parts
    from tidy_jobs as jobs
    where jobs.status = 'delivered'
)

select
    month_on,
    case
        when has_parts then 'parts recorded'
        when is_none_used then 'really used none'
        else 'no parts recorded'
    end as record,
    count(*) as jobs
from delivered
group by all
order by month_on, record
