"""Random small shop folders that say one thing whatever order their files come in; sound rows and unsound.

What the contract itself makes depend on the order is left out: the first spelling of an identifier is the one shown, so
each has one; of two rows with one key the first that is good is in, and no row that waits takes its place, so no file
has two.
"""

from hypothesis import strategies as st

from pipeline.ingest.identifiers import fold
from pipeline.store import catalogue
from tests.support import any_folder

REQUIRED = ("parts", "jobs", "job_parts")
PARTS = ("part", "can_replace", "trigger_part", "adds_part")
# Rows that differ only in these may still have one key, as a day has many spellings; so they tell no two rows apart.
NO_KEY = {"offers": ("vendor", "part"), "companions": ("trigger_part", "adds_part")}


def one(*cells):
    return st.sampled_from(cells)


IDS, JOBS, DAYS = (
    one("a", "a", "b", "b", "c", "x"),
    one("a", "a", "b", "b", "c"),
    one("", "2025-01-31", "31/01/2025", "01/02/2025", "2025-02-01", "2025-02-01"),
)
PIECES, AMOUNTS, LINES = (
    one("1", "1", "2", "1.0", "-1", "0", "few"),
    one("", "1", "1.5", "1,5", "1.500", "EUR 2", "$3", "1.23456"),
    one("", "1"),
)
FAMILIES, ASSEMBLIES, NOTES = one("em", "ss", "", "zz"), one("f", "g", ""), one("", "two\nlines")
CELLS = {
    "parts": (IDS, one("w", "w", ""), one("coil", "", "odd"), AMOUNTS),
    "jobs": (JOBS, FAMILIES, one("fix_only", "Thorough", "all"), DAYS, DAYS, one("m", "n", "")),
    "job_parts": (JOBS, IDS | one("y"), PIECES, DAYS, LINES, ASSEMBLIES),
    "families": (FAMILIES, one("w", "v", "")),
    "aliases": (one("x", "y", "c"), one("a", "b", "x", "q")),
    "interchange": (IDS, IDS, NOTES),
    "companions": (
        IDS | one(""),
        one("coil", "Sleeve", "odd"),
        IDS,
        one("", "1", "2"),
        one("piece", ""),
        one("1", "0"),
    ),
    "machines": (one("m", "n", "o"), FAMILIES, one("", "1972", "72")),
    "shop": (one("currency", "bays", "labour_rate", "colour"), one("EUR", "usd", "2", "2,5")),
    "counts": (IDS, DAYS, PIECES),
    "stock_moves": (IDS, DAYS, PIECES, one("opening", "sold", "kit_opened"), AMOUNTS, NOTES),
    "job_costs": (JOBS, one("freight", "Tax", "tip"), AMOUNTS, DAYS, one("", "EUR", "usd")),
    "job_hours": (JOBS, one("1", "0,5", "x"), DAYS),
    "vendors": (one("n", "s"), AMOUNTS, one("1", "")),
    "offers": (one("n", "s", "t"), IDS, PIECES, AMOUNTS, DAYS),
    "orders": (one("o", "p"), one("n", "s", "t"), DAYS, AMOUNTS),
    "order_lines": (one("o", "p"), IDS, PIECES, AMOUNTS, DAYS, LINES),
    "receipts": (one("o", "p"), IDS, DAYS, PIECES, NOTES),
    "payments": (JOBS, DAYS, AMOUNTS, one("deposit", "odd")),
    "callbacks": (JOBS, DAYS, IDS | one(""), one("new", "kept"), NOTES, one("1", "x"), AMOUNTS),
}


def _rows(name):
    return st.lists(st.tuples(*CELLS[name]), max_size=4)


def _settled(folder):
    """The folder with one spelling for each identifier, and no two rows of a file with one key."""
    says = {}
    for alias, part in folder.get("aliases", ()):
        says.setdefault(fold(alias), fold(part))
    parts = {fold(row[0]) for row in folder["parts"]}

    def meant(text):
        met, text = set(), fold(text)
        while text not in parts and text in says and text not in met:
            met.add(text)
            text = says[text]
        return text

    return {
        name: _without_second_keys(name, [_respelled(name, row) for row in rows], meant)
        for name, rows in folder.items()
    }


def _respelled(name, row):
    table, header = catalogue.tables()[name], any_folder.HEADERS[name].split(",")
    ids = {table.declares, "assembly", "machine", *(column for column, *_ in table.references)}
    return tuple(
        cell.replace(cell.strip(), fold(cell)) if column in ids and cell.strip() else cell
        for column, cell in zip(header, row, strict=True)
    )


def _without_second_keys(name, rows, meant):
    table, header = catalogue.tables()[name], any_folder.HEADERS[name].split(",")
    if table.has_row_identity:
        return rows
    key = [header.index(column) for column in NO_KEY.get(name, table.identity) if column in header]
    first = {}
    for row in rows:
        first.setdefault(tuple(meant(row[n]) if header[n] in PARTS else fold(row[n]) for n in key), row)
    return list(first.values())


OWN = st.fixed_dictionaries(
    {name: _rows(name) for name in REQUIRED}, optional={name: _rows(name) for name in CELLS if name not in REQUIRED}
)
FOLDERS = (OWN | any_folder.FOLDERS).map(_settled)


def pieces(folder):
    """Series of folders that hold the files once, in any order; the required ones and the currency come first."""
    late = [name for name in folder if name not in (*REQUIRED, "shop")]
    at = st.fixed_dictionaries({name: st.integers(0, 3) for name in late})
    return at.map(
        lambda places: [
            piece
            for n in range(4)
            if (piece := {name: rows for name, rows in folder.items() if places.get(name, 0) == n})
        ]
    )


def twice(folder):
    """Series of two folders: of each file without a key some of its rows, then all; of the others all each time.

    What a day or a number reads as depends on its whole column: a part of it, read by itself, may read one way. So
    none here is one that the others could put in doubt.
    """
    plain = {
        name: [tuple({"01/02/2025": "2025-02-01", "1.500": "1.5"}.get(cell, cell) for cell in row) for row in rows]
        if catalogue.tables()[name].has_row_identity
        else rows
        for name, rows in folder.items()
    }
    some = {
        name: st.lists(st.sampled_from(rows), max_size=4)
        if rows and catalogue.tables()[name].has_row_identity
        else st.just(rows)
        for name, rows in plain.items()
    }
    return st.fixed_dictionaries(some).map(lambda first: [first, plain])
