-- more_taken_than_was_there. Grain: one row per part whose book says less than none today, with the likely cause.
select
    'job_parts.csv' as file,
    'qty_pcs' as "column",
    part || ': ' || on_hand_pcs as value,
    'below none since ' || below_since_on || coalesce(' (job ' || after_job || ')', '') || '; ' || likely_cause
    as suggestion
from negative_positions
where is_below_now
order by part
