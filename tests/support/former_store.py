"""A store as the first edition laid it, for tests that bring an older one up to date."""

import duckdb

_UNDONE = """
drop table mended_rows;
create temp table files as select * exclude (holds) from load_files;
drop table load_files;
create table load_files (
    load_no integer not null references loads (load_no),
    file varchar not null,
    rows_in bigint not null,
    rows_loaded bigint not null,
    rows_set_aside bigint not null,
    primary key (load_no, file),
    check (rows_in = rows_loaded + rows_set_aside)
);
insert into load_files by name from files;
create temp table aside as select * exclude (holds, mended) from set_aside_rows;
drop table set_aside_rows;
create table set_aside_rows (
    load_no integer not null references loads (load_no),
    file varchar not null,
    line bigint not null,
    cells varchar not null
);
insert into set_aside_rows by name from aside;
update store_version set version = 1, built_by = 'Sparebench 0.1.0';
"""


def make(shop_file):
    """Turn a store into one of the first edition, its records kept; return its path."""
    with duckdb.connect(str(shop_file)) as connection:
        for statement in filter(str.strip, _UNDONE.split(";")):
            connection.execute(statement)
    return shop_file
