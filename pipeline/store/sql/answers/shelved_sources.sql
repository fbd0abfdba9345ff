-- shelved_sources. Grain: one row per part and source (salvage, made) of which the shop ever put a piece on its own
-- shelf by a stock move. Pieces of such a source leave the shelf when a job takes them; others never lay there.
select distinct
    part,
    case kind when 'harvested' then 'salvage' else 'made' end as source
from stock_moves
where kind in ('harvested', 'made') and coalesce(owner, 'shop') = 'shop'
