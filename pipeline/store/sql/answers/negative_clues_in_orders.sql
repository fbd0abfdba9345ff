-- negative_clues_in_orders. Grain: one row per order line, or delivery of it, and reason to think that it brought
-- pieces the book does not have: from from_on to to_on up to pcs more may have been there. rank 1 tells the most. A
-- line may have come once the days its vendor usually takes (the middle of its deliveries, else as quoted) are over.
with

usual as (
    select
        vendors.vendor,
        cast(coalesce(median(receipts.days), any_value(vendors.lead_time_days), 0) as integer) as days
    from tidy_vendors as vendors
    left join vendor_receipts as receipts on vendors.vendor = receipts.vendor and receipts.days >= 0
    group by vendors.vendor
),

undated as (
    select part, 1 as rank, 'a delivery without its day' as cause,
        ordered_on as from_on, date '9999-12-31' as to_on, received_pcs as pcs,
        'order ' || order_no || ' has pieces received on no day (' || received_pcs
        || '), so they count as still to come: write the day' as words
    from undated_receipts
),

still_open as (
    select lines.part, 2 as rank, 'an order still open has come' as cause,
        lines.ordered_on + usual.days as from_on, date '9999-12-31' as to_on, lines.open_pcs as pcs,
        'order ' || lines.order_no || ' of ' || lines.ordered_on || ' has pieces still to come (' || lines.open_pcs
        || ') beyond the days ' || lines.vendor || ' usually takes (' || usual.days
        || '): they may have come and not been booked in' as words
    from open_lines as lines
    inner join usual on lines.vendor = usual.vendor
),

in_packs as (
    select part, 3 as rank, 'a pack entered as pieces' as cause,
        ordered_on as from_on, date '9999-12-31' as to_on, as_pcs - qty_pcs as pcs,
        'order ' || order_no || ' has ' || qty_pcs || ' at the price of a pack of ' || pack_pcs
        || ': it may have brought ' || as_pcs || ' pieces' as words
    from order_lines_in_packs
),

late as (
    select receipts.part, 4 as rank, 'a delivery booked in late' as cause,
        orders.ordered_on + usual.days as from_on, receipts.received_on - 1 as to_on, receipts.received_pcs as pcs,
        'order ' || receipts.order_no || ' is booked in on ' || receipts.received_on || ', later than the days '
        || orders.vendor || ' usually takes (' || usual.days || '): it may have come before' as words
    from tidy_receipts as receipts
    inner join tidy_orders as orders on receipts.order_no = orders.order_no
    inner join usual on orders.vendor = usual.vendor and orders.ordered_on + usual.days < receipts.received_on
)

from undated union all from still_open union all from in_packs union all from late
