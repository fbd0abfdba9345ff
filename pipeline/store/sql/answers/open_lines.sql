-- open_lines. Grain: one row per order line with pieces still to come. A line with a day of receipt is closed, short
-- or not; one without is open for what its part deliveries have not yet brought.
with

brought as (
    select order_no, part, sum(received_pcs) as received_pcs
    from receipts
    group by order_no, part
)

select
    lines.order_no,
    orders.vendor,
    orders.ordered_on,
    lines.part,
    lines.qty_pcs - coalesce(brought.received_pcs, 0) as open_pcs,
    lines.unit_price
from tidy_order_lines as lines
inner join tidy_orders as orders on lines.order_no = orders.order_no
left join brought on lines.order_no = brought.order_no and lines.part = brought.part
where lines.received_on is null and lines.qty_pcs > coalesce(brought.received_pcs, 0)
