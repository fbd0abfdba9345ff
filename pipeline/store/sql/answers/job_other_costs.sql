-- job_other_costs. Grain: one row per job with sublet work, freight, supplies, discounts or other costs of its own.
-- Tax is left out: it passes through, and invoices are kept before tax.
select
    job,
    sum(amount) as other_amount,
    coalesce(sum(amount) filter (where kind = 'sublet'), 0) as sublet_amount,
    coalesce(sum(amount) filter (where kind = 'freight'), 0) as freight_amount,
    coalesce(sum(amount) filter (where kind = 'supplies'), 0) as supplies_amount
from job_costs
where kind <> 'tax'
group by job
