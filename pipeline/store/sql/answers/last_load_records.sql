-- last_load_records. Grain: one row per remark that stands: a value set aside, repaired or noted.
-- What waits, and what the checks of the whole store note (a column, no line), is listed anew at every load; repairs and
-- remarks on a file belong to that file's newest load. Set aside first: those rows are missing from every figure.
with

files as (
    select file, load_no from last_load_files
),

newest as (
    select max(load_no) as load_no from loads
)

select
    records.file,
    records.line,
    records."column",
    records.value,
    records.rule,
    records.suggestion,
    records.outcome
from records
cross join newest
left join files on records.file = files.file
where
    records.load_no = case
        when records.outcome = 'set_aside' then newest.load_no
        when records.outcome = 'noted' and records.line is null and records."column" is not null then newest.load_no
        else coalesce(files.load_no, newest.load_no)
    end
order by
    case records.outcome when 'set_aside' then 1 when 'noted' then 2 else 3 end,
    records.file,
    records.line,
    records."column"
