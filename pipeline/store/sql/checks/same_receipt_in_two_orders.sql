-- same_receipt_in_two_orders. Grain: one row per vendor, part, day and pieces received in more than one order.
select
    'order_lines.csv' as file,
    'received_on' as "column",
    receipts.part || ': ' || receipts.received_pcs || ' on ' || receipts.received_on as value,
    'the same pieces came from ' || orders.vendor || ' in orders '
    || string_agg(distinct receipts.order_no, ', ' order by receipts.order_no)
    || ': one delivery booked in twice?' as suggestion
from tidy_receipts as receipts
inner join orders on receipts.order_no = orders.order_no
group by orders.vendor, receipts.part, receipts.received_on, receipts.received_pcs
having count(distinct receipts.order_no) > 1
order by receipts.received_on, receipts.part
