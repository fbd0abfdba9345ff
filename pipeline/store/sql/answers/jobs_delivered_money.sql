-- jobs_delivered_money. Grain: one row per delivered job, with its hours, other costs and call-backs as recorded.
-- What nobody wrote down stays empty. Running jobs are work in progress and not here.
select
    jobs.job,
    jobs.family,
    jobs.scope,
    jobs.booked_on,
    jobs.delivered_on,
    cast(jobs.invoiced_amount as double) as invoiced_amount,
    cast(jobs.quoted_amount as double) as quoted_amount,
    jobs.quoted_hours,
    cast(jobs.quoted_parts_amount as double) as quoted_parts_amount,
    jobs.no_parts_used = 'yes' or exists (
        select 1 from tidy_job_parts as uses where uses.job = jobs.job
    ) as is_use_known,
    clock.job_hours,
    clock.billed_hours,
    coalesce(clock.callback_hours, 0) + coalesce(calls.call_hours, 0) as callback_hours,
    coalesce(calls.calls_without_hours, 0) as calls_without_hours,
    cast(coalesce(calls.call_parts_amount, 0) as double) as call_parts_amount,
    cast(coalesce(calls.trip_amount, 0) as double) as trip_amount,
    cast(coalesce(calls.charged_amount, 0) as double) as charged_amount,
    cast(coalesce(costs.other_amount, 0) as double) as other_amount,
    cast(coalesce(costs.sublet_amount, 0) as double) as sublet_amount,
    cast(coalesce(costs.freight_amount, 0) as double) as freight_amount,
    cast(coalesce(costs.supplies_amount, 0) as double) as supplies_amount
from tidy_jobs as jobs
left join job_clock_hours as clock on jobs.job = clock.job
left join job_calls as calls on jobs.job = calls.job
left join job_other_costs as costs on jobs.job = costs.job
where jobs.status = 'delivered'
order by jobs.job
