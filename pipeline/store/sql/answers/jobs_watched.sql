-- jobs_watched. Grain: one row per delivered job whose replaced pieces are known, so that what came back can be told
-- from what was fitted. Its plays after delivery can be told where it has a counter and its setting is known.
select
    job,
    family,
    scope,
    setting,
    delivered_on,
    setting is not null and (plays_quality <> 'unknown' or plays is not null) as is_clock_plays
from tidy_jobs
where
    status = 'delivered' and delivered_on is not null
    and (no_parts_used = 'yes' or job in (select job from tidy_job_parts))
