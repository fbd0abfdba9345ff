-- best_offers. Grain: one row per part with any known price: the cheapest available offer, each at its fewest packs;
-- else what was last paid; else the remembered cost. price_source says which. A price of 0 is no price.
with

least_packs as (
    select part, vendor, unit_price / (1 - reject_share) as unit_price, quoted_on
    from tidy_offers
    where available <> 'no' and unit_price > 0 and reject_share < 1
    qualify row_number() over (partition by part, vendor, pack_pcs order by from_packs) = 1
),

offered as (
    select part, vendor, unit_price, quoted_on as priced_on, 'offer' as price_source, 1 as preference
    from least_packs
    qualify row_number() over (partition by part order by unit_price, vendor) = 1
),

paid as (
    select
        lines.part,
        orders.vendor,
        lines.unit_price,
        orders.ordered_on as priced_on,
        'last paid' as price_source,
        2 as preference
    from tidy_order_lines as lines
    inner join tidy_orders as orders on lines.order_no = orders.order_no
    where lines.unit_price > 0
    qualify row_number() over (partition by lines.part order by orders.ordered_on desc, lines.order_no desc) = 1
),

remembered as (
    select
        part,
        null as vendor,
        unit_cost as unit_price,
        null as priced_on,
        'remembered' as price_source,
        3 as preference
    from tidy_parts
    where unit_cost > 0
),

known as (
    select * from offered
    union all
    select * from paid
    union all
    select * from remembered
)

select part, vendor, cast(unit_price as double) as unit_price, priced_on, price_source
from known
qualify row_number() over (partition by part order by preference) = 1
