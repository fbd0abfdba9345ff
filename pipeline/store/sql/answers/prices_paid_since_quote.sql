-- prices_paid_since_quote. Grain: one row per part and vendor that was bought after its newest quote: the quoted price
-- per piece beside the one last paid.
with

quoted as (
    select part, vendor, min(unit_price) as low_price, max(unit_price) as high_price, max(quoted_on) as quoted_on
    from tidy_offers
    where unit_price > 0
    group by part, vendor
),

paid as (
    select lines.part, orders.vendor, lines.unit_price as paid_price, orders.ordered_on as paid_on
    from tidy_order_lines as lines
    inner join tidy_orders as orders on lines.order_no = orders.order_no
    where lines.unit_price > 0
    qualify row_number() over (
        partition by lines.part, orders.vendor order by orders.ordered_on desc, lines.order_no desc
    ) = 1
)

select
    quoted.part,
    quoted.vendor,
    quoted.quoted_on,
    cast(quoted.low_price as double) as low_price,
    cast(quoted.high_price as double) as high_price,
    paid.paid_on,
    cast(paid.paid_price as double) as paid_price
from quoted
inner join paid on quoted.part = paid.part and quoted.vendor = paid.vendor and paid.paid_on > quoted.quoted_on
