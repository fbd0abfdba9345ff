-- pack_entered_as_pieces. Grain: one row per order line at the price of a pack where the price of a piece belongs.
select
    'order_lines.csv' as file,
    'unit_price' as "column",
    order_no || ', ' || part || ': ' || qty_pcs || ' at ' || round(unit_price, 2) as value,
    'the price of a pack of ' || pack_pcs || ' from ' || vendor || ' (' || round(pack_price, 2)
    || '); packs entered as pieces? then ' || as_pcs || ' pieces at ' || round(as_unit_price, 4) as suggestion
from order_lines_in_packs
order by order_no, part
