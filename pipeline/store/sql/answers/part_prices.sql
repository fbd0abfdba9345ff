-- part_prices. Grain: one row per part with any known price, for valuing what will be used.
-- What the last order of it cost landed (freight, duty, tax that is lost and discount shared by value); else the
-- cheapest offer of a piece; else the remembered cost. A part without a row has no price: unknown, not zero.
with

goods as (
    select order_no, sum(qty_pcs * unit_price) as goods_amount
    from tidy_order_lines
    group by order_no
),

bought as (
    select
        lines.part,
        orders.ordered_on as priced_on,
        lines.unit_price * (
            1 + (
                orders.freight_amount + orders.duty_amount - orders.discount_amount
                + case when orders.tax_recoverable = 'yes' then 0 else orders.tax_amount end
            ) / goods.goods_amount
        ) as unit_price,
        'landed' as price_from,
        1 as preference
    from tidy_order_lines as lines
    inner join tidy_orders as orders on lines.order_no = orders.order_no
    inner join goods on lines.order_no = goods.order_no
    where lines.unit_price > 0
    qualify row_number() over (partition by lines.part order by orders.ordered_on desc, orders.order_no desc) = 1
),

offered as (
    select part, quoted_on as priced_on, unit_price, 'offer' as price_from, 2 as preference
    from tidy_offers
    where unit_price > 0 and available <> 'no'
    qualify row_number() over (partition by part order by unit_price, vendor) = 1
),

remembered as (
    select part, null as priced_on, unit_cost as unit_price, 'unit_cost' as price_from, 3 as preference
    from tidy_parts
    where unit_cost > 0
),

known as (
    select * from bought
    union all by name
    select * from offered
    union all by name
    select * from remembered
)

select part, cast(unit_price as double) as unit_price, price_from, priced_on
from known
qualify row_number() over (partition by part order by preference) = 1
