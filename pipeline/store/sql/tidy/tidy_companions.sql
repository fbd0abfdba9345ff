-- tidy_companions. Grain: one row per rule, its defaults said.
select
    trigger_part,
    trigger_wear_class,
    adds_part,
    coalesce(share, 1) as share,
    coalesce(per, 'piece') as per,
    coalesce(qty_pcs, 1) as qty_pcs,
    assembly
from companions
