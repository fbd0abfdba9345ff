-- accepted_quotes. Grain: one row per job whose accepted quote has lines: its newest accepted version, by kind of line.
with

accepted as (
    select *
    from quote_lines
    where accepted_on is not null
    qualify version = max(version) over (partition by job)
)

select
    job,
    max(version) as version,
    max(accepted_on) as accepted_on,
    sum(amount) as quoted_amount,
    sum(amount) filter (where kind = 'part') as parts_amount,
    sum(amount) filter (where kind = 'labour') as labour_amount,
    sum(hours) filter (where kind = 'labour') as labour_hours,
    coalesce(sum(amount) filter (where kind in ('sublet', 'supplies', 'freight', 'reserve')), 0) as other_amount
from accepted
group by job
