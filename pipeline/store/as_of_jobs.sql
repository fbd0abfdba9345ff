-- Grain: one row per job that was known at the end of a day: how far it was then. For as_of.py, which makes job_days
-- (every day written of a job), known_by and the_day. is_quiet: nothing written, nor its start planned, within a year.
with

written as (
    select job, max(day) as last_on from job_days
    where known_by(day)
    group by job
),

worked as (
    select job, min(day) as first_on
    from (
        select job, used_on as day from standing.job_parts where reason is distinct from 'callback'
        union all
        select job, worked_on as day from standing.job_hours where coalesce(stage, '') not in ('callback', 'admin')
    )
    where known_by(day)
    group by job
),

facts as (
    select
        jobs.job,
        jobs.status,
        known_by(jobs.booked_on) as is_booked,
        known_by(coalesce(jobs.started_on, worked.first_on)) as is_started,
        known_by(jobs.delivered_on) as has_left,
        greatest(written.last_on, jobs.planned_start_on) + 365 <= the_day() as is_quiet,
        jobs.delivered_on is null as is_end_undated,
        jobs.job in (select job from standing.payments where kind = 'refund' and known_by(paid_on)) as is_refunded
    from standing.jobs
    inner join written on jobs.job = written.job
    left join worked on jobs.job = worked.job
),

ends as (
    select
        *,
        case coalesce(status, 'delivered')
            when 'delivered' then has_left or (status is not null and is_end_undated and is_quiet)
            when 'declined' then has_left or is_refunded or (is_end_undated and is_quiet)
            else false
        end as is_over
    from facts
)

select
    job,
    is_started or is_over as is_started,
    is_over,
    is_quiet,
    case
        when status is null or status = 'enquiry' or is_over then status
        when not is_started and not is_booked then 'enquiry'
        when not is_started or status = 'booked' then 'booked'
        else 'in_progress'
    end as status
from ends
