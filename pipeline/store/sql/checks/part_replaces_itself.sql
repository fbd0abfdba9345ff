-- part_replaces_itself. Grain: one row per part that is listed as standing in for itself.
select
    'interchange.csv' as file,
    'can_replace' as "column",
    part as value,
    'a part stands in for itself: which other part was meant?' as suggestion
from interchange
where part = can_replace
order by part
