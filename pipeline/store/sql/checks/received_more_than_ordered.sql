-- received_more_than_ordered. Grain: one row per order line that brought more pieces than were ordered.
select
    'order_lines.csv' as file,
    'received_pcs' as "column",
    order_no || ', ' || part || ': ' || received_pcs as value,
    'ordered were ' || qty_pcs || '; a pack entered as a piece?' as suggestion
from order_lines
where received_pcs > qty_pcs
order by order_no, part
