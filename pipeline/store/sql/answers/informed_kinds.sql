-- informed_kinds. Grain: one row per table of the shop folder and kind of decision (decision_rows) that reads it, with
-- the name by which one of its rows finds its decisions. Empty: it speaks of all of them. A table that is not here
-- informs none yet: names, other spellings, stand-ins, approvals, payments and pictures decide nothing by themselves.
select *
from (
    values
    ('shop', 'order', null), ('shop', 'forecast', null), ('shop', 'piece', null), ('shop', 'choice', null),
    ('shop', 'margin', null), ('shop', 'ready', null),
    ('parts', 'order', 'part'), ('parts', 'forecast', 'part'), ('parts', 'piece', 'part'), ('parts', 'need', 'part'),
    ('parts', 'margin', 'job'),
    ('jobs', 'forecast', 'family'), ('jobs', 'hours', 'family'), ('jobs', 'ready', 'family'),
    ('jobs', 'choice', 'family'), ('jobs', 'margin', 'job'), ('jobs', 'need', 'job'),
    ('job_parts', 'order', 'part'), ('job_parts', 'forecast', 'part'), ('job_parts', 'piece', 'part'),
    ('job_parts', 'need', 'part'), ('job_parts', 'margin', 'job'),
    ('families', 'choice', 'family'), ('families', 'hours', 'family'),
    ('companions', 'piece', 'part'),
    ('vendors', 'lead_time', 'vendor'), ('vendors', 'order', 'part'),
    ('offers', 'order', 'part'), ('offers', 'piece', 'part'), ('offers', 'margin', 'job'),
    ('orders', 'lead_time', 'vendor'), ('orders', 'order', 'part'), ('orders', 'piece', 'part'),
    ('orders', 'margin', 'job'),
    ('order_lines', 'lead_time', 'vendor'), ('order_lines', 'order', 'part'), ('order_lines', 'piece', 'part'),
    ('order_lines', 'need', 'part'), ('order_lines', 'margin', 'job'),
    ('receipts', 'lead_time', 'vendor'), ('receipts', 'order', 'part'), ('receipts', 'need', 'part'),
    ('receipts', 'margin', 'job'),
    ('counts', 'order', 'part'), ('counts', 'need', 'part'),
    ('stock_moves', 'order', 'part'), ('stock_moves', 'need', 'part'), ('stock_moves', 'margin', 'job'),
    ('assemblies', 'piece', 'assembly'), ('family_assemblies', 'piece', 'assembly'),
    ('family_assemblies', 'forecast', 'family'), ('family_assemblies', 'order', 'part'),
    ('assembly_parts', 'piece', 'part'), ('assembly_parts', 'forecast', 'part'), ('assembly_parts', 'order', 'part'),
    ('job_hours', 'margin', 'job'), ('job_hours', 'hours', 'family'), ('job_hours', 'choice', 'family'),
    ('job_costs', 'margin', 'job'),
    ('findings', 'choice', 'job'), ('findings', 'piece', 'part'), ('findings', 'need', 'part'),
    ('findings', 'order', 'part'), ('quote_lines', 'need', 'part'), ('quote_lines', 'order', 'part'),
    ('callbacks', 'piece', 'part'), ('callbacks', 'choice', 'family'), ('callbacks', 'margin', 'job'),
    ('wear', 'piece', 'wear_class')
) as informed (holds, kind, shared_name)
