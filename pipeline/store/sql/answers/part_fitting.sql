-- part_fitting. Grain: one row per part on offer: extra fitting hours a piece of it needs, and the share that comes
-- unfit for use, at the vendor whose usable piece is cheapest.
select part, vendor, fit_hours, reject_share
from tidy_offers
where available <> 'no' and unit_price > 0
qualify row_number() over (
    partition by part
    order by unit_price / nullif(1 - reject_share, 0) nulls last, fit_hours, vendor
) = 1
