-- received_without_day. Grain: one row per order line with pieces received on no day; it counts as still on order.
select
    'order_lines.csv' as file,
    'received_on' as "column",
    order_no || ', ' || part || ': ' || received_pcs || ' received' as value,
    'the day is empty, so all ' || qty_pcs || ' count as still on order: write the day they came' as suggestion
from undated_receipts
order by order_no, part
