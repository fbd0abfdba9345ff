-- tidy_receipts. Grain: one row per delivery of an order line; part deliveries replace the line's own day.
select
    receipts.order_no,
    receipts.part,
    receipts.received_on,
    receipts.received_pcs,
    receipts.batch
from receipts
union all
select
    lines.order_no,
    lines.part,
    lines.received_on,
    coalesce(lines.received_pcs, lines.qty_pcs) as received_pcs,
    null as batch
from order_lines as lines
where
    lines.received_on is not null
    and coalesce(lines.received_pcs, lines.qty_pcs) > 0
    and not exists (
        select 1 from receipts
        where receipts.order_no = lines.order_no and receipts.part = lines.part
    )
