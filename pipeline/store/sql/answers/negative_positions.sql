-- negative_positions. Grain: one row per part whose book is (is_below_now) or was at some time below none: by how much,
-- since when, after which job's taking, and the likely cause, the most telling first. cause is the short word for it;
-- other_causes are what else was found. on_hand_pcs is what the book says today.
with

clues as (
    select * from negative_clues_in_orders
    union all by name
    select * from negative_clues_in_counts
    union all by name
    select * from negative_clues_in_takings
),

found as (
    select
        below.*,
        coalesce(clues.cause, 'count it') as cause,
        coalesce(clues.words, 'nothing in the records explains it: count it') as likely_cause,
        row_number() over (partition by below.part order by clues.rank, clues.from_on desc, clues.words) as place
    from negative_parts as below
    left join clues
        on below.part = clues.part
        and below.below_since_on >= clues.from_on
        and below.lowest_on <= clues.to_on
        and -below.lowest_pcs <= clues.pcs
),

told as (
    select
        part,
        first(cause order by place) as cause,
        string_agg(distinct cause, '; ' order by cause) filter (place > 1) as other_causes
    from found
    group by part
)

select
    found.part,
    last_day.on_hand_pcs,
    found.lowest_pcs,
    found.below_since_on,
    found.until_on,
    found.is_below_now,
    found.is_since_count,
    found.after_job,
    found.spells,
    found.cause,
    found.likely_cause,
    told.other_causes
from found
inner join told on found.part = told.part
inner join stock_last_day as last_day on found.part = last_day.part
where found.place = 1
order by found.is_below_now desc, found.below_since_on desc, found.part
