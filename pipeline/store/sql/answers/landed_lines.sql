-- landed_lines. Grain: one row per order line, in whole cents: what its goods cost and what the whole order cost
-- beyond its goods (freight, duty, tax that cannot be recovered, less discount; IAS 2 para. 10-11).
-- A closed line counts the pieces that came, an open one the pieces ordered: it shares the freight, too.
with

came as (
    select order_no, part, sum(received_pcs) as received_pcs
    from tidy_receipts
    group by order_no, part
),

lines as (
    select
        lines.order_no,
        lines.part,
        case
            when open_lines.order_no is not null then lines.qty_pcs
            else coalesce(came.received_pcs, 0)
        end as goods_pcs,
        lines.unit_price
    from tidy_order_lines as lines
    left join came on lines.order_no = came.order_no and lines.part = came.part
    left join open_lines on lines.order_no = open_lines.order_no and lines.part = open_lines.part
)

select
    lines.order_no,
    orders.vendor,
    orders.ordered_on,
    lines.part,
    cast(lines.goods_pcs as bigint) as goods_pcs,
    cast(round(lines.goods_pcs * lines.unit_price * 100) as bigint) as goods_cents,
    cast(round(100 * (
        orders.freight_amount + orders.duty_amount - orders.discount_amount
        + case when orders.tax_recoverable = 'yes' then 0 else orders.tax_amount end
    )) as bigint) as order_extra_cents
from lines
inner join tidy_orders as orders on lines.order_no = orders.order_no
where lines.goods_pcs > 0
