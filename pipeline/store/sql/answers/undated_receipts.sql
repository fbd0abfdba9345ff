-- undated_receipts. Grain: one row per order line with pieces received on no day and no part deliveries that say it;
-- all of it counts as still on order.
select lines.order_no, lines.part, lines.qty_pcs, lines.received_pcs, orders.vendor, orders.ordered_on
from order_lines as lines
inner join orders on lines.order_no = orders.order_no
where
    lines.received_on is null
    and lines.received_pcs > 0
    and not exists (
        select 1 from receipts where receipts.order_no = lines.order_no and receipts.part = lines.part
    )
