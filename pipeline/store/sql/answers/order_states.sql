-- order_states. Grain: one row per order line: what was ordered, what its deliveries brought, what is still to come.
-- A line with a day of receipt is closed, short or not; undated_pcs came on no day that is written.
with

brought as (
    select order_no, part, sum(received_pcs) as brought_pcs
    from tidy_receipts
    group by order_no, part
)

select
    lines.order_no,
    orders.vendor,
    orders.ordered_on,
    lines.part,
    lines.qty_pcs,
    cast(coalesce(brought.brought_pcs, 0) as bigint) as brought_pcs,
    cast(coalesce(open_lines.open_pcs, 0) as bigint) as open_pcs,
    lines.received_on as closed_on,
    undated.received_pcs as undated_pcs
from order_lines as lines
inner join orders on lines.order_no = orders.order_no
left join brought on lines.order_no = brought.order_no and lines.part = brought.part
left join open_lines on lines.order_no = open_lines.order_no and lines.part = open_lines.part
left join undated_receipts as undated on lines.order_no = undated.order_no and lines.part = undated.part
order by orders.ordered_on, lines.order_no, lines.part
