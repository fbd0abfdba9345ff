-- use_by_job. Grain: one row per known job and part that its family can take.
-- Jobs that used none (call-backs left out) are present with 0: the hurdle counts them, so none may go missing.
select
    jobs.job,
    jobs.family,
    jobs.scope,
    grid.part,
    coalesce(taken.used_pcs, 0) as used_pcs,
    coalesce(taken.own_pcs, 0) as own_pcs
from known_jobs as jobs
inner join family_parts as grid on jobs.family = grid.family
left join job_work_use as taken on jobs.job = taken.job and grid.part = taken.part
