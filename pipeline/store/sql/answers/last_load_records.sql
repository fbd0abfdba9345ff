-- last_load_records. Grain: one row per remark of the newest load: a value set aside, repaired or noted.
-- Set aside first: those rows are missing from every figure until they are mended.
select
    file,
    line,
    "column",
    value,
    rule,
    suggestion,
    outcome
from records
where load_no = (select max(load_no) from loads)
order by
    case outcome when 'set_aside' then 1 when 'noted' then 2 else 3 end,
    file,
    line,
    "column"
