-- known_jobs. Grain: one row per delivered job whose use of parts is known.
select
    job,
    family,
    scope,
    booked_on,
    planned_start_on,
    started_on,
    delivered_on
from delivered_jobs
where is_use_known
