-- received_before_ordered. Grain: one row per order line received before it was ordered.
select
    'order_lines.csv' as file,
    'received_on' as "column",
    lines.order_no || ', ' || lines.part || ': ' || lines.received_on as value,
    'received before it was ordered on ' || orders.ordered_on || ': one of the two days is wrong' as suggestion
from order_lines as lines
inner join orders on lines.order_no = orders.order_no
where lines.received_on < orders.ordered_on
order by lines.order_no, lines.part
