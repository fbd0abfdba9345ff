-- delivered_without_invoice. Grain: one row per delivered job whose invoice is unknown.
select
    'jobs.csv' as file,
    'invoiced_amount' as "column",
    job as value,
    'this delivered job has no invoiced amount: its margin stays unknown' as suggestion
from tidy_jobs
where status = 'delivered' and invoiced_amount is null
order by job
