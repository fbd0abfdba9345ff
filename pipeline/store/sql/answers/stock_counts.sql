-- stock_counts. Grain: one row per part and day of counting, all bins together, against the running book of that day.
-- Without a written opening the first count can only find less than the book: what is more was there before it.
select
    part,
    book_on as counted_on,
    counted_pcs,
    book_pcs,
    count_difference_pcs,
    counted_before_on,
    lead(book_on) over (partition by part order by book_on) as counted_next_on
from stock_book
where counted_pcs is not null
