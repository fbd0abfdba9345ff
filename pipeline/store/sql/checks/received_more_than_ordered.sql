-- received_more_than_ordered. Grain: one row per order line that says it brought more pieces than were ordered.
-- As many packs of its vendor have a remark of their own (received_in_packs).
select
    'order_lines.csv' as file,
    'received_pcs' as "column",
    lines.order_no || ', ' || lines.part || ': ' || lines.received_pcs as value,
    'ordered were ' || lines.qty_pcs || '; a pack entered as a piece?' as suggestion
from order_lines as lines
inner join orders on lines.order_no = orders.order_no
where
    lines.received_pcs > lines.qty_pcs
    and not exists (
        select 1
        from tidy_offers as offers
        where
            offers.part = lines.part and offers.vendor = orders.vendor
            and lines.received_pcs = lines.qty_pcs * offers.pack_pcs
    )
order by lines.order_no, lines.part
