-- committed_needs. Grain: one row per booked or running job and part that its findings, or else its accepted quote
-- lines, ask for, all assemblies together; what the job has already taken is off.
with

wanted as (
    select job, part, known_from, sum(want_pcs) as need_pcs, bool_or(is_guessed) as is_guessed
    from wanted_pieces
    group by job, part, known_from
),

taken as (
    select job, part, sum(qty_pcs) as taken_pcs
    from tidy_job_parts
    group by job, part
)

select
    jobs.job,
    jobs.family,
    jobs.scope,
    jobs.status,
    coalesce(jobs.started_on, jobs.planned_start_on, jobs.booked_on) as needed_on,
    wanted.part,
    wanted.need_pcs,
    greatest(wanted.need_pcs - coalesce(taken.taken_pcs, 0), 0) as still_pcs,
    wanted.known_from,
    wanted.is_guessed
from wanted
inner join tidy_jobs as jobs on wanted.job = jobs.job
left join taken on wanted.job = taken.job and wanted.part = taken.part
