-- part_without_price. Grain: one row per part used or on a list that has no purchase, no offer and no unit_cost.
select
    'parts.csv' as file,
    'unit_cost' as "column",
    parts.part as value,
    'no purchase, offer or unit_cost: what it costs stays unknown' as suggestion
from parts
where
    parts.unit_cost is null
    and not exists (select 1 from order_lines where order_lines.part = parts.part)
    and not exists (select 1 from offers where offers.part = parts.part)
    and exists (select 1 from job_parts where job_parts.part = parts.part)
order by parts.part
