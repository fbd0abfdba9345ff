-- taken_far_above_holding. Grain: one row per job and part of which it took more than twice what its machine holds, and
-- more than twice what any other job took.
select
    'job_parts.csv' as file,
    'qty_pcs' as "column",
    job || ', ' || part || ': ' || used_pcs as value,
    'a machine of ' || family || ' holds ' || machine_pcs || ', and no other job took more than '
    || next_most_pcs || '; a pack entered as a piece?' as suggestion
from takings_above_holding
order by job, part
