-- delivered_job_gaps. Grain: one row per delivered job that lacks its parts, its hours or its invoice. Hours and invoices
-- count as lacking only where other delivered jobs have them: a file that nobody keeps is told as missing, once.
with

delivered as (
    select
        jobs.job,
        jobs.family,
        jobs.scope,
        jobs.delivered_on,
        cast(jobs.invoiced_amount as double) as invoiced_amount,
        not known.is_use_known as lacks_parts,
        coalesce(clock.job_hours, 0) = 0 as lacks_hours,
        jobs.invoiced_amount is null as lacks_invoice
    from tidy_jobs as jobs
    inner join delivered_jobs as known on jobs.job = known.job
    left join job_clock_hours as clock on jobs.job = clock.job
),

kept as (
    select bool_or(not lacks_hours) as are_hours_kept, bool_or(not lacks_invoice) as are_invoices_kept
    from delivered
)

select
    delivered.job,
    delivered.family,
    delivered.scope,
    delivered.delivered_on,
    delivered.invoiced_amount,
    delivered.lacks_parts,
    delivered.lacks_hours and kept.are_hours_kept as lacks_hours,
    delivered.lacks_invoice and kept.are_invoices_kept as lacks_invoice
from delivered
cross join kept
where
    delivered.lacks_parts
    or (delivered.lacks_hours and kept.are_hours_kept)
    or (delivered.lacks_invoice and kept.are_invoices_kept)
order by delivered.delivered_on desc nulls last, delivered.job
