-- last_load_files. Grain: one row per file of the newest load, with what became of its rows.
select
    file,
    rows_in,
    rows_loaded,
    rows_set_aside
from load_files
where load_no = (select max(load_no) from loads)
order by rows_set_aside desc, file
