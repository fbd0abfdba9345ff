-- receipts_more_than_ordered. Grain: one row per order line whose receipts together bring more than was ordered.
-- As many packs of its vendor have a remark of their own (received_in_packs).
with

brought as (
    select order_no, part, sum(received_pcs) as received_pcs, count(*) as deliveries
    from receipts
    group by order_no, part
)

select
    'receipts.csv' as file,
    'received_pcs' as "column",
    lines.order_no || ', ' || lines.part || ': ' || brought.received_pcs || ' in ' || brought.deliveries as value,
    'ordered were ' || lines.qty_pcs || '; the same delivery written twice?' as suggestion
from brought
inner join order_lines as lines on brought.order_no = lines.order_no and brought.part = lines.part
inner join orders on lines.order_no = orders.order_no
where
    brought.received_pcs > lines.qty_pcs
    and not exists (
        select 1
        from tidy_offers as offers
        where
            offers.part = lines.part and offers.vendor = orders.vendor
            and brought.received_pcs = lines.qty_pcs * offers.pack_pcs
    )
order by lines.order_no, lines.part
