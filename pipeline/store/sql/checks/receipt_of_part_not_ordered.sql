-- receipt_of_part_not_ordered. Grain: one row per order and part with receipts that the order does not list.
select
    'receipts.csv' as file,
    'part' as "column",
    order_no || ', ' || part || ': ' || sum(received_pcs) as value,
    'the order lists no such part: it is counted in, at no known cost; add the line or mend the part' as suggestion
from receipts
where not exists (
    select 1 from order_lines as lines where lines.order_no = receipts.order_no and lines.part = receipts.part
)
group by order_no, part
order by order_no, part
