-- wanted_pieces. Grain: one row per booked or running job, assembly (empty: nobody said) and part that its findings, or
-- else its accepted quote lines (newest version), ask for. Without pieces it asks for at least one.
with

found as (
    select job, assembly, part, sum(coalesce(qty_pcs, 1)) as want_pcs, bool_or(qty_pcs is null) as is_guessed
    from findings
    where action = 'replace' or (action is null and condition in ('failed', 'missing'))
    group by job, assembly, part
),

last_accepted as (
    select * from quote_lines
    where accepted_on is not null
    qualify version = max(version) over (partition by job)
),

accepted as (
    select job, assembly, part, sum(coalesce(qty_pcs, 1)) as want_pcs, bool_or(qty_pcs is null) as is_guessed
    from last_accepted
    where kind = 'part' and part is not null and job not in (select job from findings)
    group by job, assembly, part
),

wanted as (
    select *, 'findings' as known_from from found
    union all
    select *, 'accepted lines' as known_from from accepted
)

select
    wanted.job,
    jobs.family,
    wanted.assembly,
    wanted.part,
    wanted.want_pcs,
    wanted.known_from,
    wanted.is_guessed
from wanted
inner join tidy_jobs as jobs on wanted.job = jobs.job
where jobs.status in ('booked', 'in_progress')
