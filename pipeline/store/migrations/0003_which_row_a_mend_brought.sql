-- Where a mend was made and which row it brought, so that the same mend changed again replaces that row.
-- A table with a foreign key cannot be altered: it is laid anew. What mends of before brought is not known any more.
create temp table former_mends as from mended_rows;
drop table mended_rows;
create table mended_rows (
    load_no integer not null references loads (load_no),
    holds varchar not null,
    cells varchar not null,
    mended varchar not null,
    brought_by varchar not null check (brought_by in ('workbook', 'corrections')),
    place varchar,
    made varchar
);
insert into mended_rows by name select *, 'workbook' as brought_by from former_mends;
drop table former_mends;
