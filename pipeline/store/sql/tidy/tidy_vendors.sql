-- tidy_vendors. Grain: one row per vendor. Freight and minimum order nobody wrote down stay unknown.
select
    vendor,
    coalesce(name, vendor) as name,
    freight_flat,
    freight_free_over,
    coalesce(minimum_order, 0) as minimum_order,
    coalesce(order_hours, 0) as order_hours,
    lead_time_days
from vendors
