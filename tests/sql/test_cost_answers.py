"""Grain and meaning of the views that costs and lives rest on, on small stores written by hand."""

import pytest

from pipeline.store import read
from tests.support import hand_shop

BASE = {
    "shop": "key value\ntoday 2026-07-01",
    "families": "family name\nem Electromechanical",
    "parts": "part description wear_class\ncoil Coil coil\nsleeve Sleeve sleeve",
    "vendors": "vendor\nnorth\nsouth",
    "offers": """vendor part pack_pcs pack_price quoted_on fit_hours reject_share available
        north coil 1 10 2026-01-01 0.5 0.2 yes
        south coil 1 11 2026-01-01 0 0 yes
        north sleeve 10 5 2026-01-01 0 0 no""",
    "orders": "order_no vendor ordered_on freight tax tax_recoverable discount\nP1 north 2026-01-01 5 3 yes 1",
    "order_lines": """order_no part qty_pcs unit_price received_on received_pcs
        P1 coil 4 2.5 2026-01-05 3
        P1 sleeve 10 0.333 - -""",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3\nlight 1 2 0",
    "family_assemblies": "family assembly count\nem flip 2\nem light 1",
    "assembly_parts": "assembly part qty_pcs\nflip coil 1\nflip sleeve 2\nlight sleeve 4",
    "jobs": """job family scope status delivered_on invoiced_amount setting plays_quality
        J1 em thorough delivered 2026-02-01 900 home unknown
        J2 em fix_only delivered 2026-03-01 100 home read
        J3 em thorough in_progress - - route read""",
    "job_parts": """job part qty_pcs used_on source reason assembly
        J1 coil 2 2026-01-20 new failed flip
        J1 coil -1 2026-01-22 new - flip
        J1 sleeve 3 2026-01-20 customer policy light
        J1 coil 1 2026-04-01 new callback flip""",
    "job_hours": "job hours stage billed_hours\nJ1 5 bench 4\nJ1 3 - -\nJ1 2 callback -",
    "job_costs": "job kind amount\nJ1 sublet 40\nJ1 tax 7\nJ1 freight 10",
    "findings": "job assembly part qty_pcs condition action\nJ3 flip coil 1 failed replace\nJ3 flip coil - worn keep",
    "callbacks": """job reported_on part hours parts_cost trip_cost charged_amount
        J1 2026-03-20 coil 2 9 20 5
        J2 2026-03-20 - 1.5 3 20 -""",
    "quote_lines": """job version option kind hours amount accepted_on
        J1 1 thorough labour 8 480 2026-01-02
        J1 2 thorough labour 9 540 2026-01-20
        J1 2 thorough reserve - 30 2026-01-20
        J1 2 fix_only labour 2 120 -""",
}
GRAIN = {
    "landed_lines": ["order_no", "part"],
    "stock_issues": ["job", "part", "is_callback", "is_from_shelf"],
    "part_fitting": ["part"],
    "part_places": ["family", "part", "assembly"],
    "jobs_watched": ["job"],
    "pieces_watched": ["job", "part"],
    "judged_pieces": ["job", "part"],
    "job_clock_hours": ["job"],
    "job_calls": ["job"],
    "job_other_costs": ["job"],
    "accepted_quotes": ["job"],
    "open_findings": ["job", "assembly", "part"],
    "jobs_delivered_money": ["job"],
}


@pytest.fixture
def shop():
    with hand_shop.store(**BASE) as connection:
        yield connection


def _row(connection, view, **where):
    frame = read.frame(connection, view)
    for column, value in where.items():
        frame = frame[frame[column] == value]
    assert len(frame) == 1
    return frame.iloc[0]


@pytest.mark.parametrize("view", GRAIN)
def test_grain(shop, view):
    frame = read.frame(shop, view)
    assert len(frame)
    assert not frame.duplicated(GRAIN[view]).any()


def test_landed_lines_count_what_came_of_a_closed_line_and_what_was_ordered_of_an_open_one(shop):
    coil, sleeve = (_row(shop, "landed_lines", part=part) for part in ("coil", "sleeve"))
    assert (coil["goods_pcs"], coil["goods_cents"]) == (3, 750)
    assert (sleeve["goods_pcs"], sleeve["goods_cents"]) == (10, 333)
    # freight 5 - discount 1; the tax comes back
    assert coil["order_extra_cents"] == sleeve["order_extra_cents"] == 400


def test_arrivals_are_deliveries_and_inward_moves(shop):
    assert read.frame(shop, "stock_arrivals")[["part", "pcs", "kind"]].to_numpy().tolist() == [
        ["coil", 3, "received"]
    ]


def test_issues_net_returns_and_keep_call_backs_and_customers_pieces_apart(shop):
    found = (
        read.frame(shop, "stock_issues").set_index(["part", "is_callback", "is_from_shelf"])["pcs"].to_dict()
    )
    assert found == {("coil", False, True): 1, ("coil", True, True): 1, ("sleeve", False, False): 3}


def test_fitting_is_that_of_the_vendor_whose_usable_piece_is_cheapest(shop):
    # north: 10 / 0.8 = 12.50 a usable piece; south: 11
    row = _row(shop, "part_fitting", part="coil")
    assert (row["vendor"], row["fit_hours"]) == ("south", 0)
    assert not (read.frame(shop, "part_fitting")["part"] == "sleeve").any()


def test_places_share_by_takings_else_by_what_is_held(shop):
    assert _row(shop, "part_places", part="sleeve", assembly="light")["place_share"] == 1
    assert _row(shop, "part_places", part="sleeve", assembly="flip")["place_share"] == 0
    shop.execute("update job_parts set assembly = null")
    assert _row(shop, "part_places", part="sleeve", assembly="flip")["place_share"] == 0.5


def test_only_delivered_jobs_with_known_use_are_watched(shop):
    assert read.frame(shop, "jobs_watched")["job"].tolist() == ["J1"]


def test_pieces_are_new_or_kept_and_the_customers_own_neither(shop):
    # two coils held, one new; eight sleeves held, three of them now the customer's
    assert _row(shop, "pieces_watched", part="coil")[["new_pcs", "kept_pcs"]].tolist() == [1, 1]
    assert _row(shop, "pieces_watched", part="sleeve")[["new_pcs", "kept_pcs"]].tolist() == [0, 5]


JUDGED = ["new_pcs", "worn_pcs", "unknown_pcs", "good_pcs", "unseen_pcs"]


@pytest.mark.parametrize(
    ("findings", "expected"),
    {
        "nothing found": ("J3 flip sleeve 2 worn keep", [0, 0, 0, 0, 5]),
        "each condition counts": ("J1 flip sleeve 1 worn keep\nJ1 flip sleeve 2 good clean\nJ1 light sleeve 1 - -",
                                  [0, 1, 1, 2, 1]),
        "what is replaced is not kept": ("J1 flip sleeve 3 worn replace\nJ1 flip sleeve 1 good make", [0, 0, 0, 0, 5]),
        "no more than were kept": ("J1 flip sleeve 4 good keep\nJ1 light sleeve 4 worn keep", [0, 1, 0, 4, 0]),
        "more good than were kept": ("J1 flip sleeve 9 good keep\nJ1 light sleeve 4 worn -", [0, 0, 0, 5, 0]),
        "the unknown before the worn": ("J1 flip sleeve 4 unknown keep\nJ1 light sleeve 4 worn -", [0, 1, 4, 0, 0]),
        "a finding without pieces is one": ("J1 flip sleeve - good keep", [0, 0, 0, 1, 4]),
        "failed and yet kept is worn": ("J1 flip sleeve 2 failed recondition\nJ1 light sleeve 1 failed -",
                                        [0, 2, 0, 0, 3]),
        "a missing piece is not kept": ("J1 flip sleeve 2 missing -", [0, 0, 0, 0, 5]),
    }.values(),
)  # fmt: skip
def test_kept_pieces_are_apart_by_what_was_found(findings, expected):
    header = BASE["findings"].splitlines()[0]
    with hand_shop.store(**{**BASE, "findings": f"{header}\n{findings}"}) as connection:
        assert _row(connection, "judged_pieces", part="sleeve")[JUDGED].tolist() == expected
        # one coil new, one kept that no finding speaks of
        assert _row(connection, "judged_pieces", part="coil")[JUDGED].tolist() == [1, 0, 0, 0, 1]


def test_a_finding_of_a_part_that_nobody_listed_makes_no_piece():
    header = BASE["findings"].splitlines()[0]
    parts = BASE["parts"] + "\nknob Knob other"
    with hand_shop.store(**{**BASE, "parts": parts, "findings": f"{header}\nJ1 flip knob 2 good keep"}) as connection:
        found = read.frame(connection, "judged_pieces")
    assert sorted(found["part"]) == ["coil", "sleeve"]


def test_clock_hours_keep_call_backs_apart_and_billed_hours_may_be_partly_known(shop):
    row = _row(shop, "job_clock_hours", job="J1")
    assert (row["job_hours"], row["callback_hours"], row["billed_hours"]) == (8, 2, 4)


def test_call_back_hours_and_parts_count_once(shop):
    noted, alone = (_row(shop, "job_calls", job=job) for job in ("J1", "J2"))
    assert (noted["call_hours"], noted["call_parts_amount"], noted["trip_amount"]) == (0, 0, 20)
    assert (alone["call_hours"], alone["call_parts_amount"], alone["charged_amount"]) == (1.5, 3, 0)


def test_tax_passes_through(shop):
    row = _row(shop, "job_other_costs", job="J1")
    assert (row["other_amount"], row["sublet_amount"], row["freight_amount"]) == (50, 40, 10)


def test_the_newest_accepted_version_stands(shop):
    row = _row(shop, "accepted_quotes", job="J1")
    assert (row["version"], row["labour_hours"], row["labour_amount"], row["other_amount"]) == (2, 9, 540, 30)


def test_findings_are_counted_by_condition_and_a_blank_number_is_one(shop):
    row = _row(shop, "open_findings", job="J3")
    # the failed piece is to be replaced, but not for being decided on
    assert (row["failed_pcs"], row["worn_pcs"], row["decided_pcs"], row["is_guessed"]) == (1, 1, 0, True)


def test_money_of_delivered_jobs_leaves_running_ones_out(shop):
    assert read.frame(shop, "jobs_delivered_money")["job"].tolist() == ["J1", "J2"]
    assert not _row(shop, "jobs_delivered_money", job="J2")["is_use_known"]


@pytest.mark.parametrize("view", [*GRAIN, "stock_arrivals"])
def test_an_empty_shop_has_empty_answers(view):
    with hand_shop.store() as connection:
        assert read.frame(connection, view).empty
