-- decision_rows. Grain: one row per decision: a row of an output table that the owner reads to decide. Said here once.
-- order: a part's line of the plan. forecast: a family and part. piece: a place in a machine that is weighed. choice: a
-- machine, fix-only beside thorough. margin: a delivered job. hours, ready: a family and scope. need: a part that a job
-- waits for. lead_time: a vendor. Sums of these are not counted again. amount: the money it is about, where known.
with

booked as (
    select family.family, scope.scope
    from (select distinct family from job_bookings) as family
    cross join (select distinct scope from job_bookings) as scope
),

timed as (
    select jobs.family, jobs.scope
    from tidy_jobs as jobs
    inner join job_clock_hours as clock on jobs.job = clock.job
    where jobs.status = 'delivered' and clock.job_hours > 0
),

decisions as (
    select 'order' as kind, parts.part, prices.unit_price * used.year_pcs as amount
    from tidy_parts as parts
    left join part_prices as prices on parts.part = prices.part
    left join year_use as used on parts.part = used.part
    union all by name
    select 'forecast' as kind, family, part from family_parts where family in (select family from booked)
    union all by name
    select 'piece' as kind, weighed_pieces.*, tidy_parts.wear_class
    from weighed_pieces
    inner join tidy_parts on weighed_pieces.part = tidy_parts.part
    union all by name
    select 'choice' as kind, family from families
    union all by name
    select distinct 'choice' as kind, job, family from weighed_pieces where job is not null
    union all by name
    select 'margin' as kind, job, cast(invoiced_amount as double) as amount
    from tidy_jobs
    where status = 'delivered'
    union all by name
    select 'hours' as kind, families.family, worked.scope
    from families
    cross join (select distinct scope from timed) as worked
    where
        (families.family, worked.scope) in (select (family, scope) from timed)
        or (select count(*) - count(distinct scope) from timed) >= 2
    union all by name
    select 'ready' as kind, family, scope from booked
    union all by name
    select 'need' as kind, needs.job, needs.part, needs.still_pcs * prices.unit_price as amount
    from committed_needs as needs
    left join part_prices as prices on needs.part = prices.part
    where needs.still_pcs > 0
    union all by name
    select 'lead_time' as kind, vendor from tidy_vendors
)

select row_number() over (order by kind, part, family, scope, job, assembly, vendor) as decision, *
from decisions
