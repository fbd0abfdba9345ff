-- stock_starts. Grain: one row per part that moved or was counted: what its book begins with.
-- start_from is the opening written down, else the first count, else what arrived, else 'nothing': then no position can
-- be told. implied_opening_pcs is what must have been there for the first count to be right, where no opening is
-- written: pieces counted beyond all that came less what went. Below 0 it would be a loss, found at the count.
with

first_counted as (
    select part, counted_on as first_counted_on, sum(qty_pcs) as counted_pcs
    from counts
    group by part, counted_on
    qualify counted_on = min(counted_on) over (partition by part)
),

moves as (
    select
        movements.*,
        coalesce(movements.moved_on <= first_counted.first_counted_on, true) as is_before_count
    from stock_movements as movements
    left join first_counted on movements.part = first_counted.part
),

moved as (
    select
        part,
        max(moved_on) as last_moved_on,
        coalesce(sum(qty_pcs) filter (is_before_count), 0) as before_pcs,
        count(*) filter (is_before_count and kind = 'opening') as openings,
        count(*) filter (qty_pcs > 0 and kind <> 'used') as arrivals
    from moves
    group by part
)

select
    coalesce(moved.part, first_counted.part) as part,
    case
        when moved.openings > 0 then 'opening'
        when first_counted.part is not null then 'count'
        when moved.arrivals > 0 then 'arrivals'
        else 'nothing'
    end as start_from,
    first_counted.first_counted_on,
    moved.last_moved_on,
    cast(case
        when moved.openings > 0 then 0
        when first_counted.part is not null then greatest(first_counted.counted_pcs - coalesce(moved.before_pcs, 0), 0)
        when moved.arrivals > 0 then 0
    end as bigint) as implied_opening_pcs
from moved
full outer join first_counted on moved.part = first_counted.part
