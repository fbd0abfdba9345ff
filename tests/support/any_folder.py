"""Random small shop folders, sound and unsound, as a strategy; every file of the contract may be among them."""

import csv
import io

from hypothesis import strategies as st

# Any text a file may hold; not the NUL of binary files nor halves of characters.
ANY = st.text(st.characters(blacklist_characters="\0", blacklist_categories=["Cs"]), max_size=8)
IDS = st.sampled_from(["a", "A", " a", "b", "B-1", "b 1", "ß", "SS", "", "'; --", "=1+1", "né"])
DAYS = st.sampled_from(["", "2025-01-31", "31/01/2025", "01/02/2025", "2025-02-30", "soon", "1 Feb 2025"])
PIECES = st.sampled_from(["1", "2", "-1", "0", "", "1.0", "1,5", "few", "1e9", "9" * 30])
AMOUNTS = st.sampled_from(["", "1", "1.5", "1,5", "1.23456", "1.500", "EUR 2", "$3", "-4", "nan", "1e400", "12,345"])
NUMBERS = st.sampled_from(["", "1", "0.5", "0,5", "x", "-1", "inf", "1e-400"])
LINES = st.sampled_from(["", "1", "2"])
NOTES = st.sampled_from(["", "words", 'a "quoted", word', "two\nlines", "=1+1", " blanks around "])


def words(*some):
    """A column of words, now and then one that is none of them."""
    return st.sampled_from([*some, some[0].upper(), "", "odd"])


def rows(*cells):
    """Up to five rows of these columns, any cell replaced by any text now and then."""
    return st.lists(st.tuples(*[cell | ANY for cell in cells]), max_size=5)


FOLDERS = st.fixed_dictionaries(
    {
        "parts": rows(IDS, st.just("words"), st.sampled_from(["coil", "Opto-Pair", "", "odd"]), AMOUNTS),
        "jobs": rows(IDS, IDS, st.sampled_from(["fix_only", "Thorough", "all"]), DAYS, DAYS, IDS),
        "job_parts": rows(IDS, IDS, PIECES, DAYS, LINES, IDS),
    },
    optional={
        "families": rows(IDS, st.just("words")),
        "aliases": rows(IDS, IDS),
        "interchange": rows(IDS, IDS, NOTES),
        "companions": rows(IDS, words("coil", "sleeve"), IDS, NUMBERS, words("piece", "machine"), PIECES),
        "machines": rows(IDS, IDS, st.sampled_from(["", "1972", "72"])),
        "shop": rows(
            st.sampled_from(["currency", "bays", "labour_rate", "LABOUR_RATE", "x"]),
            st.sampled_from(["EUR", "usd", "2", "2,5", ""]),
        ),
        "counts": rows(IDS, DAYS, PIECES),
        "stock_moves": rows(IDS, DAYS, PIECES, words("opening", "harvested", "sold", "kit_opened"), AMOUNTS, NOTES),
        "job_costs": rows(
            IDS, st.sampled_from(["freight", "Tax", "tip"]), AMOUNTS, DAYS, st.sampled_from(["", "EUR", "usd"])
        ),
        "job_hours": rows(IDS, NUMBERS, DAYS),
        "vendors": rows(IDS, AMOUNTS, NUMBERS),
        "offers": rows(IDS, IDS, PIECES, AMOUNTS, DAYS),
        "orders": rows(IDS, IDS, DAYS, AMOUNTS),
        "order_lines": rows(IDS, IDS, PIECES, AMOUNTS, DAYS, PIECES),
        "receipts": rows(IDS, IDS, DAYS, PIECES, IDS),
        "payments": rows(IDS, DAYS, AMOUNTS, words("deposit", "refund")),
        "callbacks": rows(IDS, DAYS, IDS, words("new", "kept"), NOTES, NUMBERS, AMOUNTS),
    },
)
HEADERS = {
    "parts": "part,description,wear_class,unit_cost", "jobs": "job,family,scope,booked_on,delivered_on,machine",
    "job_parts": "job,part,qty_pcs,used_on,line,assembly", "families": "family,name", "aliases": "alias,part",
    "interchange": "part,can_replace,condition",
    "companions": "trigger_part,trigger_wear_class,adds_part,share,per,qty_pcs",
    "machines": "machine,family,year", "shop": "key,value", "counts": "part,counted_on,qty_pcs",
    "stock_moves": "part,moved_on,qty_pcs,kind,amount,note",
    "job_costs": "job,kind,amount,paid_on,currency", "job_hours": "job,hours,worked_on",
    "vendors": "vendor,freight_flat,lead_time_days", "offers": "vendor,part,pack_pcs,pack_price,quoted_on",
    "orders": "order_no,vendor,ordered_on,freight",
    "order_lines": "order_no,part,qty_pcs,unit_price,received_on,received_pcs",
    "receipts": "order_no,part,received_on,received_pcs,batch", "payments": "job,paid_on,amount,kind",
    "callbacks": "job,reported_on,part,part_was,cause,hours,parts_cost",
}


def text(name, cells):
    """The CSV text of one file's rows, every cell quoted."""
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n", quoting=csv.QUOTE_ALL)
    writer.writerow(HEADERS[name].split(","))
    writer.writerows(cells)
    return made.getvalue()


def files_of(folder):
    """The CSV texts of a folder, by name."""
    return {name: text(name, cells) for name, cells in folder.items()}
