"""Use of parts per job from the store: shrinkage, intervals, and records that say little."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.models import use_per_job, whole_jobs
from tests.support import hand_shop

FAMILIES = "family name\nem Electromechanical\nss Solid-state\ndm Dot-matrix"
PARTS = "part description wear_class\nsleeve Sleeve sleeve\ncoil Coil coil\nlamp Lamp lamp\nboard Board board"


def made_shop(uses, n_jobs=6):
    """Tables of a shop: ``n_jobs`` delivered jobs a family and scope; uses: family, scope, part, pieces of each."""
    cells = sorted({(family, scope) for family, scope, *_ in uses})
    names = {cell: [f"{cell[0]}-{cell[1]}-{n}" for n in range(n_jobs)] for cell in cells}
    jobs = [f"{name} {cell[0]} {cell[1]} 2025-01-01 2025-02-01 yes" for cell in cells for name in names[cell]]
    taken = [f"{names[family, scope][n]} {part} {pieces} 2025-01-20"
             for family, scope, part, each in uses for n, pieces in enumerate(each) if pieces]
    return {"families": FAMILIES, "parts": PARTS,
            "jobs": "job family scope booked_on delivered_on no_parts_used\n" + "\n".join(jobs),
            "job_parts": "job part qty_pcs used_on\n" + "\n".join(taken)}


def rates(tables, fit=use_per_job.fit):
    with hand_shop.store(**tables) as connection:
        return fit(connection).rates.set_index(["family", "scope", "part"])


def test_one_row_for_every_family_scope_and_part_it_can_take():
    found = rates(made_shop([("em", "thorough", "sleeve", [3, 3]), ("ss", "fix_only", "lamp", [1])]))
    # Scopes are the shop's; each family its own parts.
    assert set(found.index) == {("em", "thorough", "sleeve"), ("em", "fix_only", "sleeve"),
                                ("ss", "thorough", "lamp"), ("ss", "fix_only", "lamp")}
    assert found.loc[("em", "fix_only", "sleeve"), "jobs_seen"] == 0


def test_counts_are_the_records_and_the_share_lies_between_them_and_the_others():
    shop = made_shop([("em", "thorough", "coil", [1] * 6), ("ss", "thorough", "coil", [0] * 5 + [1]),
                      ("dm", "thorough", "coil", [0] * 4 + [1, 1])])
    found = rates(shop)
    em, ss = found.loc[("em", "thorough", "coil")], found.loc[("ss", "thorough", "coil")]
    assert (em["jobs_seen"], em["jobs_with_use"], ss["jobs_with_use"]) == (6, 6, 1)
    assert 1 / 6 < ss["use_share"] < em["use_share"] < 1
    assert em["use_low_share"] < em["use_share"] < em["use_high_share"]


def test_pieces_if_used_and_per_job_agree():
    found = rates(made_shop([("em", "thorough", "lamp", [80, 90, 100, 85, 95, 90])])).iloc[0]
    assert_allclose(found["expected_pcs_per_job"], found["use_share"] * found["pcs_if_used"])
    assert 80 < found["pcs_if_used"] < 95
    assert found["low_pcs_per_job"] < found["expected_pcs_per_job"] < found["high_pcs_per_job"]


def test_parts_taken_by_the_hundred_do_not_speak_for_those_taken_singly():
    found = rates(made_shop([("em", "thorough", "lamp", [90] * 6), ("em", "thorough", "board", [1, 0, 0, 0, 0, 0]),
                             ("em", "thorough", "coil", [1] * 6), ("em", "thorough", "sleeve", [1] * 6)]))
    assert found.loc[("em", "thorough", "board"), "pcs_if_used"] < 3


def test_what_a_machine_holds_limits_the_pieces_expected():
    shop = made_shop([("em", "thorough", "lamp", [90] * 6), ("em", "thorough", "board", [1, 0, 0, 0, 0, 0])])
    shop |= {"assemblies": "assembly\nhead", "family_assemblies": "family assembly count\nem head 1",
             "assembly_parts": "assembly part qty_pcs\nhead board 1\nhead lamp 40"}
    found = rates(shop)
    assert_allclose(found.loc[("em", "thorough", "board"), "pcs_if_used"], 1, atol=1e-6)
    assert found.loc[("em", "thorough", "lamp"), "pcs_if_used"] > 80  # it took 90, whatever the list says


def test_a_listed_part_never_taken_by_its_family_leans_on_the_others():
    shop = made_shop([("em", "thorough", "coil", [2] * 6), ("ss", "thorough", "lamp", [1] * 6)])
    shop |= {"assemblies": "assembly\nflipper", "family_assemblies": "family assembly count\nss flipper 2",
             "assembly_parts": "assembly part qty_pcs\nflipper coil 1"}
    row = rates(shop).loc[("ss", "thorough", "coil")]
    assert row["jobs_with_use"] == 0 and row["jobs_seen"] == 6
    assert 0 < row["use_share"] < 0.35


def test_a_scope_nobody_has_done_is_taken_to_be_like_the_familys_others():
    shop = made_shop([("em", "thorough", "coil", [1] * 6), ("em", "thorough", "lamp", [1, 0, 0, 0, 0, 0])])
    shop["jobs"] += "\nB1 em refresh 2025-06-01 - -"
    found = rates(shop)
    coil, lamp = found.loc[("em", "refresh", "coil")], found.loc[("em", "refresh", "lamp")]
    assert_allclose(coil["use_share"], found.loc[("em", "thorough", "coil"), "use_share"])
    assert lamp["use_share"] < 0.45 < 0.6 < coil["use_share"]
    assert coil["jobs_seen"] == 0 and coil["others_weight_share"] == 1
    assert lamp["use_high_share"] - lamp["use_low_share"] > 0.3


def test_weight_of_the_others_falls_as_own_jobs_come_in():
    few = rates(made_shop([("em", "thorough", "coil", [1, 0]), ("ss", "thorough", "coil", [1, 0])], n_jobs=2))
    each = [1, 0] * 20
    many = rates(made_shop([("em", "thorough", "coil", each), ("ss", "thorough", "coil", each)], n_jobs=40))
    key = ("em", "thorough", "coil")
    assert many.loc[key, "others_weight_share"] < few.loc[key, "others_weight_share"]
    spread = [frame.loc[key, "use_high_share"] - frame.loc[key, "use_low_share"] for frame in (many, few)]
    assert spread[0] < spread[1]


def test_the_other_reading_counts_unknown_jobs_as_users_of_nothing():
    shop = made_shop([("em", "fix_only", "coil", [1, 1, 1, 0, 0, 0])])
    shop["jobs"] = shop["jobs"].replace("em-fix_only-5 em fix_only 2025-01-01 2025-02-01 yes",
                                        "em-fix_only-5 em fix_only 2025-01-01 2025-02-01 -")
    left_out, as_none = rates(shop), rates(shop, use_per_job.fit_unknown_as_none)
    assert (left_out.iloc[0]["jobs_seen"], as_none.iloc[0]["jobs_seen"]) == (5, 6)
    assert as_none.iloc[0]["use_share"] < left_out.iloc[0]["use_share"]


def test_one_job_is_enough_for_a_wide_answer():
    found = rates(made_shop([("em", "thorough", "coil", [2])], n_jobs=1)).iloc[0]
    assert 0 < found["use_low_share"] < found["use_high_share"] < 1
    assert found["use_high_share"] - found["use_low_share"] > 0.3


@pytest.mark.parametrize("job_parts", ["job part qty_pcs", "job part qty_pcs\nK1 coil 1\nK1 coil -2"])
def test_a_shop_that_used_nothing_gets_an_empty_answer(job_parts):
    found = rates({"families": FAMILIES, "parts": PARTS, "job_parts": job_parts,
                   "jobs": "job family scope delivered_on\nK1 em thorough 2025-01-01"})
    assert found.empty
    assert {"use_share", "expected_pcs_per_job", "others_weight_share"} <= set(found.columns)


def test_rates_and_beliefs_stand_in_the_same_rows():
    shop = made_shop([("em", "thorough", "coil", [2, 0, 1]), ("ss", "refresh", "lamp", [9])])
    with hand_shop.store(**shop) as connection:
        use = use_per_job.fit(connection)
    assert_allclose(use.beliefs.alpha / (use.beliefs.alpha + use.beliefs.beta), use.rates["use_share"])
    reasons = ["failed_share", "policy_share", "companion_share"]  # nobody wrote a reason: unknown, not zero
    assert use.rates[reasons].isna().all(axis=None)
    assert np.isfinite(use.rates.drop(columns=reasons).select_dtypes("number")).all(axis=None)


def test_a_brief_fit_is_the_same_without_what_only_pages_show():
    shop = made_shop([("em", "thorough", "coil", [2, 0, 1]), ("ss", "refresh", "lamp", [9])])
    with hand_shop.store(**shop) as connection:
        whole, brief = use_per_job.fit(connection), use_per_job.fit(connection, is_brief=True)
        given = use_per_job.fit(connection, whole_jobs.history(connection), is_brief=True)
    pd.testing.assert_frame_equal(brief.rates, whole.rates.drop(columns=use_per_job.INTERVALS))
    pd.testing.assert_frame_equal(brief.rates, given.rates)
    assert brief.readings is None and len(whole.readings)
    assert brief.factor.loading == whole.factor.loading == given.factor.loading


def test_reasons_are_shares_of_the_uses_whose_reason_is_known_and_call_backs_are_no_use():
    shop = made_shop([("em", "thorough", "coil", [1] * 6), ("ss", "thorough", "lamp", [1])])
    reasons = ["failed", "failed", "policy", "companion", "upgrade", "-"]
    lines = [f"em-thorough-{n} coil 1 2025-01-20 {reason}" for n, reason in enumerate(reasons)]
    shop["job_parts"] = "job part qty_pcs used_on reason\n" + "\n".join(
        [*lines, "em-thorough-0 lamp 1 2025-03-20 callback", "ss-thorough-0 lamp 1 2025-01-20 -"])
    found = rates(shop)
    coil, lamp = found.loc[("em", "thorough", "coil")], found.loc[("em", "thorough", "lamp")]
    assert list(coil[["failed_uses", "policy_uses", "companion_uses", "unknown_reason_uses"]]) == [2, 1, 1, 1]
    assert_allclose(coil[["failed_share", "policy_share", "companion_share"]].astype(float), [0.4, 0.2, 0.2])
    assert lamp["jobs_with_use"] == 0 and np.isnan(lamp["failed_share"])


def test_sets_are_taken_whole_where_the_owner_does_so():
    shop = made_shop([("em", "thorough", "sleeve", [4, 4, 4, 4, 1, 0]), ("em", "thorough", "coil", [1] * 6)])
    shop |= {"assemblies": "assembly\nflipper", "family_assemblies": "family assembly count\nem flipper 1",
             "assembly_parts": "assembly part qty_pcs\nflipper sleeve 4\nflipper coil 2"}
    with hand_shop.store(**shop) as connection:
        use = use_per_job.fit(connection)
    row = use.rates.set_index("part").index.get_loc("sleeve")
    pieces = use.beliefs.piece_weight[row] @ use.beliefs.pieces[row]
    assert pieces[4] > 0.55 and pieces[4] + pieces[1] > 0.85
    assert_allclose(pieces[5:], 0)


@pytest.mark.parametrize("each", [[1] * 6, [1, 0, 0, 0, 0, 0]])
def test_wear_class_price_and_lists_may_all_be_missing(each):
    shop = made_shop([("em", "thorough", "coil", each)])
    shop["parts"] = "part description\ncoil Coil"
    row = rates(shop).iloc[0]
    assert 0 < row["use_low_share"] < row["use_share"] < row["use_high_share"] < 1
    assert abs(row["use_share"] - np.mean(each)) < 0.25


def test_an_unpriced_part_keeps_its_own_records():
    each = {"coil": [1] * 20, "lamp": [1] * 20, "board": [1] + [0] * 19}
    shop = made_shop([("em", "thorough", part, taken) for part, taken in each.items()], n_jobs=20)
    shop["parts"] = "part description wear_class unit_cost\ncoil C coil 20\nlamp L lamp 0.3\nboard B board -"
    found = rates(shop)["use_share"].droplevel(["family", "scope"])
    assert found["board"] < 0.3 and found[["coil", "lamp"]].min() > 0.8
