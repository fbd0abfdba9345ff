-- callback_before_delivery. Grain: one row per call-back reported before its job was delivered.
select
    'callbacks.csv' as file,
    'reported_on' as "column",
    job || ': ' || reported_on as value,
    'reported ' || -days_since_delivery || ' days before the job was delivered' as suggestion
from tidy_callbacks
where days_since_delivery < 0
order by job, reported_on
