-- committed_needs. Grain: one row per booked or running job and part that its findings, or else its accepted quote
-- lines (newest version), ask for; what the job has already taken is off. Without pieces it asks for at least one.
with

live_jobs as (
    select job, family, scope, status, coalesce(started_on, planned_start_on, booked_on) as needed_on
    from tidy_jobs
    where status in ('booked', 'in_progress')
),

found as (
    select job, part, sum(coalesce(qty_pcs, 1)) as need_pcs, bool_or(qty_pcs is null) as is_guessed
    from findings
    where action = 'replace' or (action is null and condition in ('failed', 'missing'))
    group by job, part
),

last_accepted as (
    select * from quote_lines
    where accepted_on is not null
    qualify version = max(version) over (partition by job)
),

accepted as (
    select job, part, sum(coalesce(qty_pcs, 1)) as need_pcs, bool_or(qty_pcs is null) as is_guessed
    from last_accepted
    where kind = 'part' and part is not null and job not in (select job from findings)
    group by job, part
),

wanted as (
    select *, 'findings' as known_from from found
    union all
    select *, 'accepted lines' as known_from from accepted
),

taken as (
    select job, part, sum(qty_pcs) as taken_pcs
    from tidy_job_parts
    group by job, part
)

select
    live_jobs.job,
    live_jobs.family,
    live_jobs.scope,
    live_jobs.status,
    live_jobs.needed_on,
    wanted.part,
    wanted.need_pcs,
    greatest(wanted.need_pcs - coalesce(taken.taken_pcs, 0), 0) as still_pcs,
    wanted.known_from,
    wanted.is_guessed
from wanted
inner join live_jobs on wanted.job = live_jobs.job
left join taken on wanted.job = taken.job and wanted.part = taken.part
