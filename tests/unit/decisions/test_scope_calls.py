"""How often a machine comes back: one figure with the options', and as often as machines played through do."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope, scope_costs
from pipeline.decisions.scope_prospect import OWNER_DAYS
from tests.support import scope_bench
from tests.support.scope_bench import BASE

WORN = {"shop": {"plays_per_month_home": "300"}, **scope_bench.WORN}
ASKED = pytest.mark.parametrize("tables", [{}, WORN], ids=["seldom", "often"])
SHARES = ["none_share", "one_share", "two_share", "more_share"]


def calls(**tables):
    return scope_bench.made(**tables).calls.set_index(["subject", "option", "horizon_days"])


def test_two_horizons_of_every_option():
    found = calls()
    assert list(found.index) == [
        ("family:ss", option, days) for days in (90.0, OWNER_DAYS) for option in scope.OPTIONS]
    assert list(found.columns) == SHARES


@ASKED
def test_the_chance_of_a_call_back_is_that_of_not_none(tables):
    options = scope_bench.made(**tables).options.set_index(["subject", "option"])
    none = calls(**tables).xs(90.0, level="horizon_days")["none_share"]
    assert_allclose(options["callback_share"], 1 - none.reindex(options.index), atol=1e-12)


@ASKED
def test_shares_add_up_to_one(tables):
    found = calls(**tables)
    assert_allclose(found.sum(axis=1), 1)
    assert ((found >= 0) & (found <= 1)).all().all()


@ASKED
def test_later_there_are_more_calls(tables):
    found = calls(**tables)["none_share"].unstack("horizon_days")
    assert (found[OWNER_DAYS] < found[90.0]).all()


@ASKED
@pytest.mark.parametrize("option", ["fix_only", "thorough"])
def test_beside_machines_played_through(tables, option):
    machine, shop = scope_bench.machine(**tables)
    choice, plan = machine.choice, machine.plans()[option]
    other = choice.other_calls_of(plan)
    counts, without = scope_costs._played(shop, machine.subject, choice.lines, plan, other)
    for place, days in enumerate((90.0, OWNER_DAYS)):
        number = counts[:, :, place].sum(axis=1) + without
        seen = [(number == 0).mean(), (number == 1).mean(), (number == 2).mean(), (number > 2).mean()]
        found = calls(**tables).loc[("family:ss", option, days)].to_numpy()
        # 640 machines of 160 draws of the belief: the draws are the same on both sides, the luck is not
        assert_allclose(found, seen, atol=4 * np.sqrt(found * (1 - found) / len(number)).max() + 1e-3)


def test_unknown_where_no_list_says_what_stays():
    found = calls(assembly_parts="", family_assemblies="", assemblies="")
    assert found.isna().all().all()
    assert len(found) == 6


def test_a_machine_of_which_hardly_anything_was_ever_replaced_has_shares_too():
    # expected pieces of a typical job are fractions: a chance of a piece each
    jobs = BASE["jobs"] + "".join(f"\nF{n} ss fix_only delivered home 2026-01-01 read" for n in range(7))
    found = calls(jobs=jobs, job_parts="job part qty_pcs\nR1 coil 1\nF0 coil 1\nF1 sleeve 1", **WORN)
    assert_allclose(found.sum(axis=1), 1)
    assert ((found >= 0) & (found <= 1)).all().all()
