-- price_far_from_usual. Grain: one row per order line whose price is more than three times, or less than a third, of
-- the middle of at least three other purchases of the part. A pack entered as pieces has a remark of its own.
with

priced as (
    select
        order_no,
        part,
        unit_price,
        count(*) over others as others,
        median(unit_price) over others as usual_price
    from order_lines
    where unit_price > 0
    window others as (
        partition by part rows between unbounded preceding and unbounded following exclude current row
    )
)

select
    'order_lines.csv' as file,
    'unit_price' as "column",
    order_no || ', ' || part || ': ' || round(unit_price, 2) as value,
    'the middle of ' || others || ' other purchases is ' || round(usual_price, 2) || '; a slip, or another pack?'
    as suggestion
from priced
where
    others >= 3
    and (unit_price > 3 * usual_price or 3 * unit_price < usual_price)
    and not exists (
        select 1
        from order_lines_in_packs as packs
        where packs.order_no = priced.order_no and packs.part = priced.part
    )
order by order_no, part
