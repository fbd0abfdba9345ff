"""Quoted to actual, by hand; the kinds add up to the gap between the margin promised and earned."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions.earnings import job_margins
from pipeline.decisions.variances import COLUMNS, KINDS, variances
from tests.support import hand_shop

BASE = {
    "shop": "key value\nlabour_cost 30\noverhead_per_hour 10\nlabour_rate 60\npart_markup_share 0.25\ntoday 2026-07-01",
    "families": "family name\nem Electromechanical",
    "parts": "part description\ncoil Coil\nlamp Lamp",
    "vendors": "vendor\nnorth",
    # coils cost 10 when the job was booked and 12 when it was done
    "orders": "order_no vendor ordered_on\nP1 north 2026-01-01\nP2 north 2026-03-01",
    "order_lines": "order_no part qty_pcs unit_price received_on\nP1 coil 1 10 2026-01-05\nP2 coil 9 12 2026-03-05",
    "jobs": """job family scope booked_on delivered_on quoted_amount quoted_hours quoted_parts_amount invoiced_amount
        J1 em thorough 2026-02-01 2026-04-01 725 10 125 800""",
    "job_parts": "job part qty_pcs used_on\nJ1 coil 1 2026-02-05\nJ1 coil 3 2026-03-10",
    "job_hours": "job hours worked_on billed_hours\nJ1 8 2026-03-01 8\nJ1 4 2026-03-02 2",
    "job_costs": "job kind amount\nJ1 sublet 40",
}


def _rows(**tables):
    tables = {name: text for name, text in {**BASE, **tables}.items() if text}
    with hand_shop.store(**tables) as connection:
        return variances(connection).set_index("kind")


def test_every_kind_by_hand():
    found = _rows()["variance_amount"]
    # parts: 1 x 10 + 3 x 12 = 46 against 4 x 10 known when booked; quoted 125 / 1.25 = 100 before markup
    assert_allclose(found["parts_price"], 46 - 40)
    assert_allclose(found["parts_quantity"], 40 - 100)
    # 12 h against 10 h at 30 + 10; quoted rate (725 - 125) / 10 = 60, 2 h not billed
    assert_allclose(found["hours"], 80)
    assert_allclose(found["rate"], 120)
    # invoiced 75 more, and would have been 120 more still
    assert_allclose(found["scope_growth"], -75 - 120)
    assert_allclose(found["other"], 40)


def test_kinds_add_up_to_promised_less_earned():
    calls = "job reported_on hours trip_cost\nJ1 2026-05-01 1 20"
    with hand_shop.store(**BASE, callbacks=calls) as connection:
        found, earned = (
            variances(connection),
            job_margins(connection).set_index("job").loc["J1", "margin_amount"],
        )
    promised = 725 - 125 / 1.25 - 10 * 40
    assert_allclose(found["variance_amount"].sum(), promised - earned)


def test_accepted_quote_lines_tell_the_rate_and_what_was_allowed_for():
    lines = """job version option kind hours amount accepted_on
        J1 1 thorough labour 10 550 2026-02-01
        J1 1 thorough sublet - 30 2026-02-01
        J1 1 fix_only labour 2 999 -"""
    found = _rows(quote_lines=lines)["variance_amount"]
    assert_allclose(found["rate"], 2 * 55)
    assert_allclose(found["other"], 40 - 30)


def test_the_newest_accepted_version_counts():
    lines = """job version option kind hours amount accepted_on
        J1 1 thorough labour 10 500 2026-02-01
        J1 2 thorough labour 10 580 2026-03-01"""
    assert_allclose(_rows(quote_lines=lines).loc["rate", "variance_amount"], 2 * 58)


def test_billed_hours_nobody_wrote_down_have_no_rate_row():
    found = _rows(job_hours="job hours\nJ1 12")["variance_amount"]
    assert "rate" not in found
    assert_allclose(found["scope_growth"], -75)


@pytest.mark.parametrize(
    ("column", "gone"),
    [
        ("quoted_hours", {"hours", "rate"}),
        ("quoted_parts_amount", {"parts_quantity", "rate"}),
        ("quoted_amount", {"scope_growth", "rate"}),
    ],
)
def test_a_figure_not_quoted_has_no_row(column, gone):
    header, row = (line.split() for line in BASE["jobs"].splitlines())
    row[header.index(column)] = "-"
    assert set(_rows(jobs=" ".join(header) + "\n" + " ".join(row)).index) == set(KINDS) - gone


def test_a_part_never_bought_before_shows_no_drift():
    found = _rows(
        orders="order_no vendor ordered_on\nP2 north 2026-03-01",
        order_lines="order_no part qty_pcs unit_price received_on\nP2 coil 9 12 2026-03-05",
    )
    assert found.loc["parts_price", "variance_amount"] == 0
    assert "as when the job was booked" in found.loc["parts_price", "reason"]


def test_reasons_name_what_moved():
    reasons = _rows()["reason"]
    assert "coil: +6.00" in reasons["parts_price"]
    assert "12 hours worked, 10 quoted" in reasons["hours"]
    assert "10 of 12 hours billed" in reasons["rate"]
    assert "75.00 more than quoted" in reasons["scope_growth"]
    assert "sublet 40.00" in reasons["other"]


def test_largest_first_within_a_job():
    amounts = _rows()["variance_amount"].abs().to_numpy()
    assert (np.diff(amounts) <= 0).all()


def test_a_running_job_has_none():
    jobs = BASE["jobs"].replace("2026-04-01", "-")
    assert _rows(jobs=jobs).empty


def test_columns_are_the_contracts():
    with hand_shop.store(**BASE) as connection:
        assert (
            list(variances(connection).columns)
            == COLUMNS
            == ["job", "kind", "quoted_amount", "actual_amount", "variance_amount", "reason"]
        )


def test_three_required_files_alone():
    with hand_shop.store(
        families="family name\nem em",
        parts="part description\ncoil Coil",
        jobs="job family scope delivered_on\nJ1 em thorough 2026-01-01",
        job_parts="job part qty_pcs\nJ1 coil 2",
    ) as connection:
        assert variances(connection).empty
