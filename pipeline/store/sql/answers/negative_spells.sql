-- negative_spells. Grain: one row per part and stretch of days on which its book says less than none, from one count to
-- the next. A stretch ends when the book is back at none or more, or with a count. after_job is the job whose taking
-- (the largest of that day) took it below; empty where something else did. until_on is empty while it lasts.
with

below as (
    select
        *,
        -- a stretch begins where the day before it had none or more
        count(*) filter (book_pcs - moved_pcs >= 0) over (
            partition by part order by book_on rows unbounded preceding
        ) as spell
    from stock_book
    where book_pcs < 0
),

spells as (
    select
        part,
        min(book_on) as below_since_on,
        max(case when counted_pcs is not null then book_on else next_on end) as next_on,
        min(book_pcs) as lowest_pcs,
        arg_min(book_on, book_pcs) as lowest_on,
        bool_or(counted_pcs is null and next_on is null) as is_below_now,
        min(counted_before_on) as counted_before_on
    from below
    group by part, spell
),

takings as (
    select
        movements.part,
        coalesce(movements.moved_on, starts.first_counted_on, starts.last_moved_on) as book_on,
        arg_min(movements.job, (movements.qty_pcs, movements.job)) as job
    from stock_movements as movements
    inner join stock_starts as starts on movements.part = starts.part
    where movements.kind = 'used' and movements.qty_pcs < 0 and movements.part in (select part from spells)
    group by all
)

select
    spells.part,
    spells.below_since_on,
    case when not spells.is_below_now then spells.next_on end as until_on,
    spells.lowest_pcs,
    spells.lowest_on,
    spells.is_below_now,
    coalesce(spells.below_since_on > last_day.counted_on, true) as is_since_count,
    spells.counted_before_on,
    takings.job as after_job
from spells
inner join stock_last_day as last_day on spells.part = last_day.part
left join takings on spells.part = takings.part and spells.below_since_on = takings.book_on
