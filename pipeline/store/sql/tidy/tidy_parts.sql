-- tidy_parts. Grain: one row per part, its defaults said.
select
    part,
    description,
    coalesce(wear_class, 'other') as wear_class,
    coalesce(supply, 'steady') as supply,
    shelf,
    coalesce(keep, 'auto') as keep,
    unit_cost
from parts
