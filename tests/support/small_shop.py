"""A tiny shop folder, written by hand, and ways to look at a store; every test bends its own copy."""

import atexit
import csv
import json
import shutil
import tempfile
from functools import cache
from pathlib import Path

import duckdb
import pandas as pd

from pipeline.ingest import read as read_place
from pipeline.ingest import row_mark, set_aside_book, shop_folder, take_in, waiting
from pipeline.store import build, catalogue, connect, merge, read

# Three files are all that must be there.
LEAST = {
    "parts": "part,description\nfli-coil,Flipper coil\nsleeve,Coil sleeve\nlamp,Lamp\n",
    "jobs": "job,family,scope,booked_on,delivered_on\n"
    "J1,em,fix_only,2025-01-02,2025-01-20\nJ2,em,thorough,2025-02-03,2025-03-30\nJ3,ss,refresh,2025-04-01,\n",
    "job_parts": "job,part,qty_pcs,used_on\n"
    "J1,sleeve,2,2025-01-10\nJ2,fli-coil,3,2025-02-10\nJ2,sleeve,3,2025-02-10\nJ3,lamp,12,2025-04-05\n",
}
# One row or more for every other file of the contract.
WHOLE = LEAST | {
    "shop": "key,value\nname,Small bench\nlabour_rate,62\ncurrency,EUR\n",
    "families": "family,name\nem,Electromechanical\nss,Solid-state\n",
    "aliases": "alias,part\nFLIPPER COIL,fli-coil\n",
    "interchange": "part,can_replace,condition\nsleeve,lamp,never in truth\n",
    "companions": "trigger_wear_class,adds_part,share\ncoil,sleeve,1\n",
    "machines": "machine,family,title,year\nM1,em,Own title,1972\nM2,ss,Another,1984\n",
    "vendors": "vendor,name,freight_flat,lead_time_days\nnorth,North parts,9.5,6\n",
    "offers": "vendor,part,pack_pcs,pack_price,from_packs,quoted_on\n"
    "north,sleeve,10,4.5,1,2025-01-01\nnorth,sleeve,10,4.0,1,2025-03-01\nnorth,sleeve,10,3.5,5,2025-03-01\n",
    "orders": "order_no,vendor,ordered_on,freight\nP1,north,2025-01-05,9.5\nP2,north,2025-03-05,\n",
    "order_lines": "order_no,part,qty_pcs,unit_price,received_on,received_pcs\n"
    "P1,sleeve,20,0.4567,2025-01-12,20\nP1,lamp,50,0.35,2025-01-12,\nP2,sleeve,10,0.5,,\n",
    "receipts": "order_no,part,received_on,received_pcs,batch\nP1,sleeve,2025-01-11,12,b1\nP1,sleeve,2025-01-15,8,b2\n",
    "counts": "part,counted_on,qty_pcs\nsleeve,2025-03-31,4\nlamp,2025-03-31,0\n",
    "stock_moves": "part,moved_on,qty_pcs,kind,unit_cost\nlamp,2025-01-01,30,opening,0.3\nlamp,2025-02-01,-2,sold,\n",
    "assemblies": "assembly,name,bench_hours,installed_hours,open_hours\nflipper,Flipper,0.8,1.2,0.3\n",
    "family_assemblies": "family,assembly,count\nem,flipper,2\nss,flipper,3\n",
    "assembly_parts": "assembly,part,family,qty_pcs,piece_hours\n"
    "flipper,sleeve,,1,\nflipper,fli-coil,,1,0.5\nflipper,fli-coil,em,2,\n",
    "job_hours": "job,hours,worked_on,stage\nJ1,1.5,2025-01-10,bench\nJ1,0.25,2025-01-11,\n",
    "job_costs": "job,kind,amount,paid_on\nJ1,freight,30.5,2025-01-20\n",
    "findings": "job,assembly,part,qty_pcs,condition\nJ3,flipper,sleeve,2,worn\n",
    "quote_lines": "job,version,option,kind,part,amount\nJ3,1,fix_only,part,sleeve,1.2\nJ3,1,thorough,labour,,120\n",
    "approvals": "job,asked_on,what,amount,answered_on,answer,by\nJ3,2025-04-02,new coils,45,2025-04-03,yes,Ada\n",
    "payments": "job,paid_on,amount,kind\nJ1,2025-01-20,150,balance\n",
    "callbacks": "job,reported_on,part,part_was,hours\nJ1,2025-02-01,sleeve,kept,0.5\n",
    "photos": "job,file,taken_on\nJ3,pictures/j3-1.jpg,2025-04-02\n",
    "wear": "wear_class,median_plays_new,shape\ncoil,200000,1.5\n",
}
# Of these the files that a fault of a row is mostly about, and those they name: loaded in half the time.
FEW = {name: WHOLE[name] for name in (
    *LEAST, "shop", "families", "vendors", "offers", "orders", "order_lines", "receipts", "counts", "job_costs")}


def write(folder, files):
    """Write files (name to CSV text, or bytes) into a folder, made if missing; return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        path = folder / (name if "." in name else f"{name}.csv")
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return folder


def with_rows(files, name, *rows):
    """Return the files with rows added to one of them."""
    return files | {name: files[name] + "".join(f"{row}\n" for row in rows)}


def load(folder, files=None, shop_file=None):
    """Write the files, if any, and load the folder into a store beside it; return store and summary."""
    if files is not None:
        write(folder, files)
    shop_file = shop_file or folder.with_suffix(".duckdb")
    return shop_file, shop_folder.load(folder, shop_file, folder.with_name(folder.name + "-out"))


def loaded_before(folder, files):
    """Return a store as :func:`load` leaves it, beside its folder, for a test of what comes afterwards.

    The same files are loaded once in a process; folder, store and output are copies, each test's own.
    """
    write(folder, files)
    place = _loaded_once(tuple(files.items()), build.schema_statements)
    shutil.copytree(place.with_name("shop-out"), folder.with_name(f"{folder.name}-out"))
    return Path(shutil.copy(place.with_suffix(".duckdb"), folder.with_suffix(".duckdb")))


@cache
def _loaded_once(files, _has_remarks):
    made = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
    atexit.register(made.cleanup)
    place = Path(made.name) / "shop"
    load(place, dict(files))
    return place


def laid(connection, place, files=None, **terms):
    """Take the files, or what lies at a place, into an open store, without checks; return what was taken."""
    given = read_place.read(place if files is None else write(place, files))
    taken = take_in.take_in(connection, given, **terms)
    take_in.prepare_log(connection, given, taken)
    with connect.transaction(connection):
        merge.merge(connection)
    return taken


def held(connection):
    """Return every row of the shop's own tables of an open store (dict of str to sorted list)."""
    return {name: sorted(read.rows(connection, f"select * from main.{name}"), key=repr) for name in catalogue.tables()}


def waits(connection):
    """Return the rows that wait in an open store, cells as typed (dict of (table, file, line) to dict)."""
    return {(row.holds, row.file, row.line): json.loads(row.cells) for row in waiting.rows(connection).itertuples()}


def said(taken, outcome="set_aside"):
    """Return file, line (-1 for a whole file), column and rule of what is said of rows (sorted list of tuples)."""
    return sorted(
        (e.file, -1 if pd.isna(e.line) else int(e.line), e.column if isinstance(e.column, str) else "", e.rule)
        for part in taken.entries
        for e in part.astype(object).itertuples()
        if e.outcome == outcome
    )


def book(connection, path):
    """Write the rows that wait in an open store as a load does; return the path."""
    entries = read.query(
        connection,
        'select file, line, "column", value, rule, suggestion from records'
        " where load_no = (select max(load_no) from loads) and outcome = 'set_aside'",
    )
    rows = waiting.rows(connection)
    store_mark = row_mark.of_store(connection, int(rows["load_no"].max()))
    set_aside_book.write(path, rows, entries.astype({"line": "Int64"}), store_mark)
    return path


def mended(book, path, cells=(), without=()):
    """Save a workbook of rows set aside anew, as its owner would mend it; return its path.

    ``cells`` is a list of sheet, line, column and text; ``without`` a list of sheet and line, rows deleted.
    """
    import openpyxl

    made = openpyxl.load_workbook(book)
    for sheet, line, column, text in cells:
        head = [cell.value for cell in made[sheet][1]]
        made[sheet].cell(line, head.index(column) + 1).value = text
    for sheet, line in sorted(without, reverse=True):
        made[sheet].delete_rows(line)
    made.save(path)
    return path


def contents(shop_file, but=()):
    """Return every row of every table of a store (dict of str to sorted list), log tables included."""
    with duckdb.connect(str(shop_file), read_only=True, config=connect.SETTINGS) as connection:
        return {
            name: sorted(read.rows(connection, f"select * from main.{name}"), key=repr)
            for name in catalogue.every_table()
            if name not in but
        }


def records(shop_file):
    """Return the shop's own tables alone, as :func:`contents`."""
    return contents(shop_file, but=catalogue.OWN)


def rows(shop_file, sql):
    """Return the rows of a SELECT on a store's tables."""
    with duckdb.connect(str(shop_file), read_only=True, config=connect.SETTINGS) as connection:
        return read.rows(connection, sql)


def entries(summary, outcome="set_aside", **where):
    """Return the summary's entries of one outcome as dicts, those alone whose columns are as given."""
    found = summary.records[summary.records["outcome"] == outcome]
    for column, value in where.items():
        found = found[found[column] == value]
    return [
        entry | {"line": None if entry["line"] is None or entry["line"] != entry["line"] else int(entry["line"])}
        for entry in found.astype(object).where(found.notna(), None).to_dict("records")
    ]


def data_rows(path):
    """Count the rows of a CSV file that have anything in them, by the plain csv module."""
    with open(path, encoding="utf-8-sig", newline="") as text:
        return sum(any(cell.strip() for cell in row) for row in csv.reader(text)) - 1


def set_aside(summary):
    """Return file, line, column and rule of every entry that set a row aside (sorted list of tuples)."""
    return sorted((e["file"], e["line"], e["column"] or "", e["rule"]) for e in entries(summary))
