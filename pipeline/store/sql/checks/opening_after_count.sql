-- opening_after_count. Grain: one row per part whose opening stock is written on a day after its first count.
select
    'stock_moves.csv' as file,
    'moved_on' as "column",
    moves.part || ': ' || moves.moved_on as value,
    'the part was counted on ' || starts.first_counted_on || ' already: this opening adds to it' as suggestion
from stock_moves as moves
inner join stock_starts as starts on moves.part = starts.part
where moves.kind = 'opening' and moves.moved_on > starts.first_counted_on and coalesce(moves.owner, 'shop') = 'shop'
order by moves.part, moves.moved_on
