"""Records at the edge: short lives, long warranties, lists no job ever followed, parts nobody sells."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope, scope_what_if
from pipeline.errors import SparebenchError
from pipeline.reports import notebook
from tests.support import hand_shop, scope_bench
from tests.support.scope_bench import BASE


def own(found, subject="family:ss"):
    return found.options[found.options["subject"] == subject].set_index("option")


@pytest.mark.parametrize("line", ["sleeve 3000 3000 30 30 3 50", "coil 1 1 1 1 1.2 1000"])
def test_pieces_that_live_many_times_within_five_years_are_counted(line):
    wear = BASE["wear"].splitlines()[0] + "\n" + line
    found = scope_bench.made(wear=wear, shop={"plays_per_month_home": "1000"})
    figures = own(found).drop(columns="subject").to_numpy(dtype=float)
    assert np.isfinite(figures).all()
    assert own(found)["later_cost_amount"].min() > 100


def test_a_warranty_beyond_five_years_counts_its_own_call_backs_everywhere():
    found = scope_bench.made(shop={"warranty_days": "3000"})
    machine = found.machines["family:ss"]
    fix = own(found).loc["fix_only"]
    plan = machine.plans()["recommended"]
    answer = scope_what_if.ask(found.shop, machine, plan, 0.0, 5.0, found.shop.settings.callback_trip_cost, 1.0)
    asked = answer.options.set_index("option")
    assert_allclose(asked.loc["fix_only", "later_amount"], fix["later_cost_amount"], rtol=1e-6)
    assert fix["owner_cost_amount"] >= -1e-9


def test_a_job_of_another_kind_does_not_take_the_list_out_of_force():
    # one open thorough job, none delivered: nobody ever took a coil or a sleeve, so the list says what thorough does
    jobs = BASE["jobs"] + "\nO9 ss thorough in_progress home - read"
    listed, told = scope_bench.made(), scope_bench.made(jobs=jobs)
    for found in (listed, told):
        lines = found.lines[(found.lines["option"] == "thorough") & found.lines["part"].isin(["coil", "sleeve"])]
        assert lines["qty_pcs"].tolist() == [3, 3]


def test_what_nobody_sells_says_so_where_it_stays():
    parts = "part description wear_class unit_cost supply\ncoil Coil coil 15 ended\nsleeve Sleeve sleeve 1 ended\n"
    found = scope_bench.made(parts=parts + "glass Glass cosmetic - steady")
    lines = found.lines[(found.lines["option"] == "recommended") & (found.lines["action"] == "keep")]
    assert len(lines) == 2
    assert lines["why"].str.startswith("stays: its supply has ended and the shelf does not hold it").all()


def test_decided_and_failed_pieces_are_told_apart():
    jobs = BASE["jobs"] + "\nO1 ss refresh in_progress home - read"
    findings = "job assembly part qty_pcs condition action\nO1 flip coil 1 failed -\nO1 flip coil 2 good replace"
    found = scope_bench.made(jobs=jobs, findings=findings)
    lines = found.lines[(found.lines["subject"] == "job:O1") & (found.lines["part"] == "coil")].set_index("option")
    assert lines.loc["thorough", "qty_pcs"] == 3
    assert lines.loc["fix_only", "qty_pcs"] == 1


def test_a_machine_holds_what_is_taken_from_it():
    jobs = BASE["jobs"] + "".join(f"\nF{n} ss fix_only delivered home 2026-01-01 read" for n in (1, 2))
    found = scope_bench.made(jobs=jobs, job_parts=BASE["job_parts"] + "\nF1 sleeve 12\nF2 sleeve 12")
    choice = found.machines["family:ss"].choice
    held = choice.lines["held_pcs"].to_numpy()
    for plan in (choice.fix, choice.thorough):
        assert_allclose(plan.pcs.sum(axis=1), held)


def test_an_unknown_price_leaves_the_break_even_unknown():
    wear = BASE["wear"].replace("sleeve 100000 5000", "sleeve 100000 300")
    parts = BASE["parts"].replace("coil Coil coil 15", "coil Coil coil -")
    found = scope_bench.made(wear=wear, parts=parts, companions="trigger_part adds_part\nsleeve coil")
    coil = found.lines[(found.lines["option"] == "recommended") & (found.lines["part"] == "coil")].iloc[0]
    assert np.isnan(coil["now_amount"]) or coil["action"] == "keep"
    assert np.isnan(coil["break_even_failures"])


@pytest.mark.parametrize("asked", [1.5, -0.2, float("nan")])
def test_a_chance_that_is_none_is_refused_in_words(tmp_path, asked):
    path = hand_shop.write(tmp_path / "shop.duckdb", **{name: BASE[name] for name in ("parts", "jobs", "families")})
    with pytest.raises(SparebenchError, match="quiet_share"):
        notebook.scope(str(path), quiet_share=asked)


def test_a_chance_no_scope_reaches_weighs_the_quietest():
    found = scope_bench.made(quiet_share=0.9999)
    frontier = found.machines["family:ss"].frontier
    quiet = frontier.table["quiet_share"].to_numpy()
    assert frontier.towards(0.9999) == quiet.argmax()
    assert frontier.best(0.9999) == frontier.table["total_amount"].to_numpy().argmin()
    assert scope.QUIET_SHARE < 1
