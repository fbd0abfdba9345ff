-- stock_ledger. Grain: one row per part: all that came in, all that went out and what is left, in pieces.
-- opening + implied_opening + received + made + harvested + found + kit_in + count_gain
--   = used + sold + written_off + returned_to_vendor + kit_out + count_loss + on_hand, for every part and on every day.
-- Where the book begins with nothing (start_from), implied_opening and on_hand stay empty: unknown, and nothing came.
-- never_shelved_pcs were used, too, but never lay on the shelf. A credit nobody wrote down is not in credit_amount.
with

counted as (
    select
        part,
        sum(greatest(count_difference_pcs, 0)) as gain_pcs,
        sum(greatest(-count_difference_pcs, 0)) as loss_pcs
    from stock_counts
    group by part
),

credited as (
    select part, sum(amount) as credit_amount
    from stock_moves
    where kind = 'returned_to_vendor' and coalesce(owner, 'shop') = 'shop'
    group by part
),

jobs_used as (
    select part, sum(qty_pcs) as pcs
    from tidy_job_parts
    group by part
)

select
    parts.part,
    coalesce(starts.start_from, 'nothing') as start_from,
    coalesce(terms.opening_pcs, 0) as opening_pcs,
    starts.implied_opening_pcs,
    coalesce(terms.received_pcs, 0) as received_pcs,
    coalesce(terms.made_pcs, 0) as made_pcs,
    coalesce(terms.harvested_pcs, 0) as harvested_pcs,
    coalesce(terms.found_pcs, 0) as found_pcs,
    coalesce(terms.kit_in_pcs, 0) as kit_in_pcs,
    cast(coalesce(counted.gain_pcs, 0) as bigint) as count_gain_pcs,
    coalesce(terms.used_pcs, 0) as used_pcs,
    coalesce(terms.sold_pcs, 0) as sold_pcs,
    coalesce(terms.written_off_pcs, 0) as written_off_pcs,
    coalesce(terms.returned_to_vendor_pcs, 0) as returned_to_vendor_pcs,
    coalesce(terms.kit_out_pcs, 0) as kit_out_pcs,
    cast(coalesce(counted.loss_pcs, 0) as bigint) as count_loss_pcs,
    last_day.on_hand_pcs,
    credited.credit_amount,
    cast(coalesce(jobs_used.pcs, 0) - coalesce(terms.used_pcs, 0) as bigint) as never_shelved_pcs
from tidy_parts as parts
left join stock_starts as starts on parts.part = starts.part
left join stock_terms as terms on parts.part = terms.part
left join stock_last_day as last_day on parts.part = last_day.part
left join counted on parts.part = counted.part
left join credited on parts.part = credited.part
left join jobs_used on parts.part = jobs_used.part
