-- job_calls. Grain: one row per job that came back: calls, and what the call-back rows say they took.
-- The hours and parts of a call-back count here only where nothing of the kind is in job_hours or job_parts.
with

clocked as (select distinct job from tidy_job_hours where stage = 'callback'),

taken as (select distinct job from tidy_job_parts where reason = 'callback')

select
    calls.job,
    count(*) as calls,
    case when bool_or(clocked.job is not null) then 0 else coalesce(sum(calls.hours), 0) end as call_hours,
    count(*) filter (where calls.hours is null and clocked.job is null) as calls_without_hours,
    case when bool_or(taken.job is not null) then 0 else coalesce(sum(calls.parts_cost), 0) end as call_parts_amount,
    coalesce(sum(calls.trip_cost), 0) as trip_amount,
    coalesce(sum(calls.charged_amount), 0) as charged_amount
from tidy_callbacks as calls
left join clocked on calls.job = clocked.job
left join taken on calls.job = taken.job
group by calls.job
