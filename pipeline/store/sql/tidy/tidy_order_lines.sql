-- tidy_order_lines. Grain: one row per order and part.
-- A line with a day but no pieces came whole; a line without a day is still on order.
select
    order_no,
    part,
    qty_pcs,
    unit_price,
    received_on,
    case when received_on is not null then coalesce(received_pcs, qty_pcs) end as received_pcs
from order_lines
