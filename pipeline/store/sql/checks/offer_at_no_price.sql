-- offer_at_no_price. Grain: one row per vendor, part, pack and price break that is offered at 0 today.
select
    'offers.csv' as file,
    'pack_price' as "column",
    vendor || ', ' || part || ': pack of ' || pack_pcs
    || case when from_packs > 1 then ', from ' || from_packs || ' packs' else '' end as value,
    'a price of 0 is no price: the offer is left out of the orders until its price is written' as suggestion
from tidy_offers
where pack_price = 0 and available <> 'no'
order by vendor, part, pack_pcs, from_packs
