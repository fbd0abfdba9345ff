-- received_in_packs. Grain: one row per order line whose pieces received are the pieces ordered times a pack of its
-- vendor: one of the two counts packs.
with

received as (
    select order_no, part, sum(received_pcs) as received_pcs
    from tidy_receipts
    group by order_no, part
)

select
    'order_lines.csv' as file,
    'qty_pcs' as "column",
    lines.order_no || ', ' || lines.part || ': ' || lines.qty_pcs as value,
    'received were ' || received.received_pcs || ', which is ' || lines.qty_pcs || ' packs of ' || min(offers.pack_pcs)
    || '; packs entered as pieces ordered?' as suggestion
from tidy_order_lines as lines
inner join tidy_orders as orders on lines.order_no = orders.order_no
inner join received on lines.order_no = received.order_no and lines.part = received.part
inner join tidy_offers as offers on lines.part = offers.part and orders.vendor = offers.vendor
where offers.pack_pcs > 1 and received.received_pcs = lines.qty_pcs * offers.pack_pcs
group by lines.order_no, lines.part, lines.qty_pcs, received.received_pcs
order by lines.order_no, lines.part
