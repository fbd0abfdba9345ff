-- stock_arrivals. Grain: one row per delivery, and per inward move of the shop's own pieces, oldest first.
-- unit_cost is empty where the cost comes from the order (deliveries) or nobody wrote one down.
select part, received_on as came_on, received_pcs as pcs, 'received' as kind, order_no, null as unit_cost
from tidy_receipts
union all
select part, moved_on as came_on, qty_pcs as pcs, kind, null as order_no, unit_cost
from stock_moves
where qty_pcs > 0 and coalesce(owner, 'shop') = 'shop'
order by came_on, order_no, part, pcs
