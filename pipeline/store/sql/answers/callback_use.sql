-- callback_use. Grain: one row per family and part that call-backs took, kept apart from what jobs used themselves.
select
    family,
    part,
    count(distinct job) as jobs_called_back,
    cast(sum(used_pcs) as bigint) as used_pcs,
    min(used_on) as first_used_on,
    max(used_on) as last_used_on
from use_days
where is_callback
group by family, part
