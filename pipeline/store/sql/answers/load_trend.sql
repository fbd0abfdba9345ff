-- load_trend. Grain: one row per load: rows found in its files, loaded and set aside; cells repaired; and all rows that
-- waited when it was done, those of earlier files among them.
with

files as (
    select
        load_no,
        count(*) as files,
        sum(rows_in) as rows_in,
        sum(rows_loaded) as rows_loaded,
        sum(rows_set_aside) as rows_set_aside
    from load_files
    group by load_no
),

repaired as (
    select load_no, count(distinct (file, line, "column")) as cells_repaired
    from records
    where outcome = 'repaired'
    group by load_no
),

waiting as (
    select load_no, count(*) as rows_waiting
    from set_aside_rows
    group by load_no
)

select
    loads.load_no,
    cast(loads.loaded_at as date) as loaded_on,
    coalesce(files.files, 0) as files,
    cast(coalesce(files.rows_in, 0) as bigint) as rows_in,
    cast(coalesce(files.rows_loaded, 0) as bigint) as rows_loaded,
    cast(coalesce(files.rows_set_aside, 0) as bigint) as rows_set_aside,
    coalesce(repaired.cells_repaired, 0) as cells_repaired,
    coalesce(waiting.rows_waiting, 0) as rows_waiting
from loads
left join files on loads.load_no = files.load_no
left join repaired on loads.load_no = repaired.load_no
left join waiting on loads.load_no = waiting.load_no
order by loads.load_no
