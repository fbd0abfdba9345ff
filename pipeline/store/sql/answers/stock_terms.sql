-- stock_terms. Grain: one row per part that moved on or off the shop's shelf: its pieces by kind of movement.
-- used is net of what went back, so below 0 where more went back than was taken.
with

moved as (
    select
        part,
        kind,
        sum(qty_pcs) as pcs,
        sum(greatest(qty_pcs, 0)) as in_pcs,
        sum(greatest(-qty_pcs, 0)) as out_pcs
    from stock_movements
    group by part, kind
)

select
    part,
    cast(coalesce(sum(pcs) filter (kind = 'opening'), 0) as bigint) as opening_pcs,
    cast(coalesce(sum(pcs) filter (kind = 'received'), 0) as bigint) as received_pcs,
    cast(coalesce(sum(pcs) filter (kind = 'made'), 0) as bigint) as made_pcs,
    cast(coalesce(sum(pcs) filter (kind = 'harvested'), 0) as bigint) as harvested_pcs,
    cast(coalesce(sum(pcs) filter (kind = 'found'), 0) as bigint) as found_pcs,
    cast(coalesce(sum(in_pcs) filter (kind = 'kit_opened'), 0) as bigint) as kit_in_pcs,
    cast(coalesce(-sum(pcs) filter (kind = 'used'), 0) as bigint) as used_pcs,
    cast(coalesce(-sum(pcs) filter (kind = 'sold'), 0) as bigint) as sold_pcs,
    cast(coalesce(-sum(pcs) filter (kind = 'written_off'), 0) as bigint) as written_off_pcs,
    cast(coalesce(-sum(pcs) filter (kind = 'returned_to_vendor'), 0) as bigint) as returned_to_vendor_pcs,
    cast(coalesce(sum(out_pcs) filter (kind = 'kit_opened'), 0) as bigint) as kit_out_pcs
from moved
group by part
