-- negative_parts. Grain: one row per part whose book is, or was at some time, below none: the stretch that is told.
-- The one that lasts goes before those since the last count, these before older ones; then the deepest.
select
    spells.*,
    count(*) over (partition by spells.part) as spells,
    starts.start_from,
    starts.first_counted_on
from negative_spells as spells
inner join stock_starts as starts on spells.part = starts.part
qualify row_number() over (
    partition by spells.part
    order by spells.is_below_now desc, spells.is_since_count desc, spells.lowest_pcs, spells.below_since_on
) = 1
