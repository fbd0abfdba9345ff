-- tidy_offers. Grain: one row per vendor, part, pack and price break: the newest quote of each.
select
    vendor,
    part,
    vendor_part,
    coalesce(pack_pcs, 1) as pack_pcs,
    pack_price,
    pack_price / coalesce(pack_pcs, 1) as unit_price,
    coalesce(from_packs, 1) as from_packs,
    quoted_on,
    coalesce(fit_hours, 0) as fit_hours,
    coalesce(reject_share, 0) as reject_share,
    coalesce(available, 'yes') as available
from offers
qualify row_number() over (
    partition by vendor, part, coalesce(pack_pcs, 1), coalesce(from_packs, 1)
    order by quoted_on desc nulls last, pack_price, vendor_part
) = 1
