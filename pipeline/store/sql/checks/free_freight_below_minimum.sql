-- free_freight_below_minimum. Grain: one row per vendor whose freight is free from less than the least it accepts.
select
    'vendors.csv' as file,
    'freight_free_over' as "column",
    vendor || ': ' || round(freight_free_over, 2) as value,
    'it takes no order below ' || round(minimum_order, 2) || ', so none pays freight; are the two swapped?' as suggestion
from tidy_vendors
where freight_free_over < minimum_order and coalesce(freight_flat, 1) > 0
order by vendor
