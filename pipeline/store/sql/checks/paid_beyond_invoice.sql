-- paid_beyond_invoice. Grain: one row per delivered job paid beyond its invoice and the tax written down for it.
-- Invoices are kept before tax: where no tax is written a quarter of the invoice may be tax. Refunds are taken off.
with

paid as (
    select job, sum(case when kind = 'refund' then -abs(amount) else amount end) as paid_amount
    from payments
    group by job
),

taxed as (
    select job, sum(amount) as tax_amount
    from job_costs
    where kind = 'tax'
    group by job
)

select
    'payments.csv' as file,
    'amount' as "column",
    jobs.job || ': ' || round(paid.paid_amount, 2) as value,
    'the invoice is ' || round(jobs.invoiced_amount, 2) || coalesce(' and its tax ' || round(taxed.tax_amount, 2), '')
    || ': a payment written twice, or a tax or refund left out?' as suggestion
from paid
inner join tidy_jobs as jobs on paid.job = jobs.job
left join taxed on paid.job = taxed.job
where
    jobs.status = 'delivered'
    and paid.paid_amount > coalesce(jobs.invoiced_amount + taxed.tax_amount, 1.25 * jobs.invoiced_amount)
order by jobs.job
