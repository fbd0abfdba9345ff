-- counter_sales. Grain: one row per part and day on which the shop sold pieces of its own over the counter.
-- sales counts the rows written down that day; watched_from_on is the day of the first stock move of any kind, from
-- which a day without a row is taken as one without a sale. Not by calendar month: months are counted back from
-- today, so that the newest one is whole.
select
    part,
    moved_on as sold_on,
    cast(-sum(qty_pcs) as bigint) as sold_pcs,
    count(*) as sales,
    (select min(moved_on) from stock_moves) as watched_from_on
from stock_moves
where kind = 'sold' and coalesce(owner, 'shop') = 'shop'
group by part, moved_on
