-- Which table a file holds, how far a row set aside could be mended, and what its owner made of it.
-- A table with a foreign key cannot be altered: each is laid anew. The rules on stock moves come with the next load.
create temp table former_files as from load_files;
drop table load_files;
create table load_files (
    load_no integer not null references loads (load_no),
    file varchar not null,
    rows_in bigint not null,
    rows_loaded bigint not null,
    rows_set_aside bigint not null,
    holds varchar not null,
    primary key (load_no, file),
    check (rows_in = rows_loaded + rows_set_aside)
);
insert into load_files by name
select *, lower(regexp_replace(file, '[.][A-Za-z]+$', '')) as holds from former_files;
drop table former_files;
create temp table former_rows as from set_aside_rows;
drop table set_aside_rows;
create table set_aside_rows (
    load_no integer not null references loads (load_no),
    file varchar not null,
    line bigint not null,
    cells varchar not null,
    holds varchar not null,
    mended varchar
);
insert into set_aside_rows by name
select
    former_rows.*,
    lower(regexp_replace(former_rows.file, '[.][A-Za-z]+$', '')) as holds,
    case when records.rule is null then former_rows.cells end as mended
from former_rows
left join records
    on
        former_rows.load_no = records.load_no
        and former_rows.file = records.file
        and former_rows.line = records.line
        and records.rule = 'more_cells';
drop table former_rows;
-- What waits is said by the newest load alone from now on: rows of files that it did not bear are told again under it.
create temp table newest_files as
select load_no, file from load_files qualify load_no = max(load_no) over (partition by holds);
insert into set_aside_rows by name
select * replace ((select max(load_no) from loads) as load_no) from set_aside_rows
where (load_no, file) in (from newest_files) and load_no < (select max(load_no) from loads);
insert into records by name
select * replace ((select max(load_no) from loads) as load_no) from records
where
    outcome = 'set_aside'
    and (load_no, file) in (from newest_files)
    and load_no < (select max(load_no) from loads);
drop table newest_files;
create table mended_rows (
    load_no integer not null references loads (load_no),
    holds varchar not null,
    cells varchar not null,
    mended varchar not null
);
