-- job_use. Grain: one row per job and part that it used; what went back to the shelf is taken off.
-- Every source is consumption; own_pcs leaves out what the customer brought. More back than taken counts as none.
-- Call-backs are counted in, for they cost the job; job_work_use leaves them out.
select
    taken.job,
    jobs.family,
    jobs.scope,
    jobs.status,
    taken.part,
    sum(taken.qty_pcs) as used_pcs,
    greatest(coalesce(sum(taken.qty_pcs) filter (taken.source <> 'customer'), 0), 0) as own_pcs,
    min(taken.used_on) as first_used_on
from tidy_job_parts as taken
inner join tidy_jobs as jobs on taken.job = jobs.job
group by taken.job, jobs.family, jobs.scope, jobs.status, taken.part
having sum(taken.qty_pcs) > 0
