-- vendor_receipts. Grain: one row per order line and delivery, and one for what is still to come of an open line.
-- Open lines have no day yet: the lead time is only known to be longer than from ordered_on to today.
select
    orders.vendor,
    receipts.order_no,
    receipts.part,
    orders.ordered_on,
    receipts.received_on,
    receipts.received_on - orders.ordered_on as days,
    false as is_open
from tidy_receipts as receipts
inner join tidy_orders as orders on receipts.order_no = orders.order_no
union all
select vendor, order_no, part, ordered_on, null as received_on, null as days, true as is_open
from open_lines
