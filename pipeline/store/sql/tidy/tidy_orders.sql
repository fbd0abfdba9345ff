-- tidy_orders. Grain: one row per order; a charge nobody wrote down adds nothing and is counted as unknown.
select
    order_no,
    vendor,
    ordered_on,
    coalesce(freight, 0) as freight_amount,
    coalesce(duty, 0) as duty_amount,
    coalesce(tax, 0) as tax_amount,
    coalesce(tax_recoverable, 'no') as tax_recoverable,
    coalesce(discount, 0) as discount_amount,
    freight is null as is_freight_unknown
from orders
