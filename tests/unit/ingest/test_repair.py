"""One pass over a file's cells: mends listed, doubtful cells refused, everything else as typed."""

import pandas as pd
import pytest

from pipeline.ingest.identifiers import Known
from pipeline.ingest.raw_table import RawTable
from pipeline.ingest.repair import repair
from pipeline.store import connect


@pytest.fixture(scope="module")
def known():
    """The identifiers of a store with one part and one alias."""
    with connect.open_memory() as connection:
        connection.execute("insert into parts (part, description) values ('coil', 'c')")
        connection.execute("insert into aliases values ('spule', 'coil', null)")
        return Known(connection, {})


def mended(known, name, **columns):
    """The frame, the mends and the refusals as tuples."""
    frame = pd.DataFrame({column: pd.Series(cells, dtype=object) for column, cells in columns.items()})
    raw = RawTable(name, f"{name}.csv", frame.assign(file_line=range(2, 2 + len(frame)), extra=None), set(columns))
    after, mends, refused = repair(raw, known)
    listed = [(e.line, e.column, e.value, e.rule, e.suggestion) for mend in mends for e in mend.itertuples()]
    return after, listed, list(refused[["line", "column", "value", "rule"]].itertuples(index=False, name=None))


def test_several_mends_of_one_cell_are_listed_in_turn(known):
    after, listed, refused = mended(known, "job_parts", job=["J1"], part=["SPULE "], qty_pcs=[" 2"])
    assert after[["part", "qty_pcs"]].values.tolist() == [["coil", "2"]] and not refused
    assert listed == [(2, "part", "SPULE ", "blanks", "blanks around it dropped: SPULE"),
                      (2, "part", "SPULE", "alias", "taken as coil"),
                      (2, "qty_pcs", " 2", "blanks", "blanks around it dropped: 2")]


def test_a_mend_is_listed_for_every_line_it_touches(known):
    _, listed, _ = mended(known, "job_parts", part=["spule", "coil", "spule", "SPULE"])
    assert [(line, value) for line, _, value, *_ in listed] == [(2, "spule"), (4, "spule"), (5, "SPULE")]


def test_pieces_are_never_mended(known):
    after, listed, _ = mended(known, "job_parts", qty_pcs=["1,5", "EUR 2", "2/3"])
    assert after["qty_pcs"].tolist() == ["1,5", "EUR 2", "2/3"] and not listed


def test_words_of_the_contract_may_be_in_capitals_with_blanks_or_dashes(known):
    after, listed, _ = mended(known, "job_parts", reason=["Broken in work", "NO-CURE", "failed", "bad luck", ""])
    assert after["reason"].tolist() == ["broken_in_work", "no_cure", "failed", "bad luck", ""]
    assert [value for _, _, value, *_ in listed] == ["Broken in work", "NO-CURE"]


def test_doubtful_cells_are_refused_by_line(known):
    after, listed, refused = mended(known, "job_costs", amount=["12,5", "1.500", "EUR 3", "$4", "1.500"],
                                    paid_on=["01/02/2025", "", "2025-01-01", "03/04/2025", ""])
    assert refused == [(4, "amount", "EUR 3", "other_currency"), (3, "amount", "1.500", "two_readings"),
                       (6, "amount", "1.500", "two_readings"), (2, "paid_on", "01/02/2025", "two_readings"),
                       (5, "paid_on", "03/04/2025", "two_readings")]
    assert after["amount"].tolist() == ["12.5", "1.500", "EUR 3", "4", "1.500"]
    assert [(line, rule) for line, _, _, rule, _ in listed] == [(5, "own_currency"), (2, "decimal_comma")]


def test_a_file_without_rows(known):
    after, listed, refused = mended(known, "job_costs", amount=[], paid_on=[], kind=[])
    assert after.empty and not listed and not refused


def test_the_raw_frame_stays_as_typed(known):
    raw = RawTable(
        "parts", "parts.csv", pd.DataFrame({"file_line": [2], "part": [" coil "], "extra": [None]}), {"part"}
    )
    repair(raw, known)
    assert raw.frame["part"].tolist() == [" coil "]
