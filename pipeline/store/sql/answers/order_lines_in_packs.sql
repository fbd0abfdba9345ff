-- order_lines_in_packs. Grain: one row per order line that seems to count packs as pieces: its price a piece is nearer
-- to what the vendor asks for a whole pack than for a piece of it, within a quarter; as_ says it in pieces.
with

packs as (
    select vendor, part, pack_pcs, pack_price, unit_price as piece_price
    from tidy_offers
    where pack_pcs > 1 and pack_price > 0
)

select
    lines.order_no,
    lines.part,
    orders.vendor,
    orders.ordered_on,
    lines.qty_pcs,
    lines.unit_price,
    packs.pack_pcs,
    packs.pack_price,
    lines.qty_pcs * packs.pack_pcs as as_pcs,
    lines.unit_price / packs.pack_pcs as as_unit_price
from tidy_order_lines as lines
inner join tidy_orders as orders on lines.order_no = orders.order_no
inner join packs on lines.part = packs.part and orders.vendor = packs.vendor
where
    lines.unit_price between packs.pack_price * 0.8 and packs.pack_price * 1.25
    -- nearer by ratio; as doubles, since the square of an absurd price is beyond any decimal
    and cast(lines.unit_price as double) * lines.unit_price > cast(packs.pack_price as double) * packs.piece_price
qualify row_number() over (
    partition by lines.order_no, lines.part
    order by abs(lines.unit_price - packs.pack_price), packs.pack_pcs
) = 1
