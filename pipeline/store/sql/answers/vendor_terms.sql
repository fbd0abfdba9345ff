-- vendor_terms. Grain: one row per vendor: its terms, and what its past orders were like.
-- freight_share and lines_per_order are empty without past orders; freight nobody wrote down is left out of the share.
with

goods as (
    select order_no, count(*) as line_count, sum(qty_pcs * unit_price) as goods_amount
    from tidy_order_lines
    group by order_no
),

past as (
    select
        orders.vendor,
        count(*) as orders_placed,
        avg(goods.line_count) as lines_per_order,
        sum(orders.freight_amount) filter (where not orders.is_freight_unknown)
        / nullif(sum(goods.goods_amount) filter (where not orders.is_freight_unknown), 0) as freight_share,
        avg(orders.freight_amount) filter (where not orders.is_freight_unknown) as mean_freight_amount
    from tidy_orders as orders
    inner join goods on orders.order_no = goods.order_no
    group by orders.vendor
)

select
    vendors.vendor,
    vendors.name,
    cast(vendors.freight_flat as double) as freight_flat,
    cast(vendors.freight_free_over as double) as freight_free_over,
    cast(vendors.minimum_order as double) as minimum_order,
    vendors.order_hours,
    vendors.lead_time_days,
    coalesce(past.orders_placed, 0) as orders_placed,
    past.lines_per_order,
    cast(past.freight_share as double) as freight_share,
    cast(past.mean_freight_amount as double) as mean_freight_amount
from tidy_vendors as vendors
left join past on vendors.vendor = past.vendor
order by vendors.vendor
