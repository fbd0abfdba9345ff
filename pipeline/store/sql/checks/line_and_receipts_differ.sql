-- line_and_receipts_differ. Grain: one row per order line that says other pieces received than its receipts bring.
-- Its receipts count; a line with a day and no pieces came whole by its own word.
with

brought as (
    select order_no, part, sum(received_pcs) as received_pcs
    from receipts
    group by order_no, part
)

select
    'order_lines.csv' as file,
    'received_pcs' as "column",
    lines.order_no || ', ' || lines.part || ': ' || coalesce(lines.received_pcs, lines.qty_pcs) as value,
    'its receipts bring ' || brought.received_pcs || ', and they count: mend the line, or add the receipt that lacks'
    as suggestion
from brought
inner join order_lines as lines on brought.order_no = lines.order_no and brought.part = lines.part
where
    (lines.received_pcs is not null or lines.received_on is not null)
    and coalesce(lines.received_pcs, lines.qty_pcs) <> brought.received_pcs
order by lines.order_no, lines.part
