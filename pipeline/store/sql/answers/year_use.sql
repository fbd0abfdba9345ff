-- year_use. Grain: one row per part used within a year before the shop's today (else before the newest taking):
-- pieces of every source and the jobs that took them; what went back to the shelf is taken off.
with

newest as (
    select coalesce(try_cast(value as date), (select max(used_on) from tidy_job_parts)) as today
    from tidy_settings
    where key = 'today'
)

select
    uses.part,
    sum(uses.qty_pcs) as year_pcs,
    count(distinct uses.job) as year_jobs
from tidy_job_parts as uses
cross join newest
where uses.used_on > newest.today - 365 and uses.used_on <= newest.today
group by uses.part
