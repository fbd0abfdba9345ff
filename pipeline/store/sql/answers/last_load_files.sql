-- last_load_files. Grain: one row per file, for its own newest load: what became of its rows then, and how many of them
-- still wait now. A folder may be loaded in pieces, and a row mended elsewhere waits no longer.
with

newest as (
    select file, rows_in, rows_loaded, rows_set_aside, load_no
    from load_files
    qualify load_no = max(load_no) over (partition by file)
),

waiting as (
    select file, count(*) as rows_waiting
    from waiting_rows
    group by file
)

select
    newest.file,
    newest.rows_in,
    newest.rows_loaded,
    newest.rows_set_aside,
    coalesce(waiting.rows_waiting, 0) as rows_waiting,
    newest.load_no,
    cast(loads.loaded_at as date) as loaded_on
from newest
inner join loads on newest.load_no = loads.load_no
left join waiting on newest.file = waiting.file
order by rows_waiting desc, newest.rows_set_aside desc, newest.file
