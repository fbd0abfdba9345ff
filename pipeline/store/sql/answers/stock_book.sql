-- stock_book. Grain: one row per part and day on which it moved or was counted: the running book, in pieces.
-- book_pcs is what must lie there before the day's count: what the count before found (else what the book begins with)
-- and what moved since; on_hand_pcs is what lies there after it. Movements of a day come before its count. A taking
-- with no day at all counts just before the first count, else on the part's last day. Where the book begins with
-- nothing both are empty.
with

events as (
    select
        movements.part,
        coalesce(movements.moved_on, starts.first_counted_on, starts.last_moved_on) as book_on,
        movements.qty_pcs as moved_pcs,
        null as counted_pcs
    from stock_movements as movements
    inner join stock_starts as starts on movements.part = starts.part
    union all
    select part, counted_on as book_on, null as moved_pcs, qty_pcs as counted_pcs
    from counts
),

running as (
    select
        part,
        book_on,
        cast(coalesce(sum(moved_pcs), 0) as bigint) as moved_pcs,
        cast(sum(counted_pcs) as bigint) as counted_pcs,
        cast(sum(coalesce(sum(moved_pcs), 0)) over (
            partition by part order by book_on rows unbounded preceding
        ) as bigint) as total_pcs
    from events
    group by part, book_on
),

told as (
    select
        *,
        lead(book_on) over part_days as next_on,
        max(case when counted_pcs is not null then book_on end) over days_before as counted_before_on,
        last_value(counted_pcs - total_pcs ignore nulls) over days_before as beyond_pcs
    from running
    window
        part_days as (partition by part order by book_on),
        days_before as (partition by part order by book_on rows between unbounded preceding and 1 preceding)
)

select
    told.part,
    told.book_on,
    told.moved_pcs,
    told.total_pcs + coalesce(told.beyond_pcs, starts.implied_opening_pcs) as book_pcs,
    told.counted_pcs,
    told.counted_pcs - book_pcs as count_difference_pcs,
    coalesce(told.counted_pcs, book_pcs) as on_hand_pcs,
    told.counted_before_on,
    told.next_on
from told
inner join stock_starts as starts on told.part = starts.part
