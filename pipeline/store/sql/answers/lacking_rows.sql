-- lacking_rows. Grain: one row per table of the shop folder that speaks of single parts or jobs only, and part or job of
-- which a row of it would tell more: a line that came short (receipts), a shelf nobody can tell (stock_moves), an open
-- job whose teardown or quote is not written down (findings, quote_lines), a name nobody lists (aliases).
select 'receipts' as holds, part, null as job
from order_lines
where received_pcs < qty_pcs
union
select 'stock_moves' as holds, part, null as job
from stock_position
where on_hand_pcs is null or on_hand_pcs < 0
union
select 'findings' as holds, null as part, job
from running_and_booked_jobs
where job not in (select job from findings)
union
select 'quote_lines' as holds, null as part, job
from running_and_booked_jobs
where job not in (select job from quote_lines) and job not in (select job from findings)
union
select 'aliases' as holds, part, null as job
from waiting_rows
where part is not null and part not in (select part from parts)
