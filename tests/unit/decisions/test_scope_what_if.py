"""What if: other terms answered, what changes told, and values that cannot be refused in words."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.decisions import scope, scope_what_if
from pipeline.errors import InvalidParameter
from tests.support import scope_bench

WORN = {"shop": {"plays_per_month_home": "200"}, "quiet_share": 0.5, **scope_bench.WORN}
OWN = {"quiet_share": 0.5, "horizon_years": 5.0, "trip_amount": 50.0, "open_ratio": 1.0}


def ask(tables=WORN, **changes):
    machine, shop = scope_bench.machine(**tables)
    plan = machine.plans(tables.get("quiet_share", scope.QUIET_SHARE))["recommended"]
    return scope_what_if.ask(shop, machine, plan, **OWN | changes)


def test_the_shop_s_own_terms_change_nothing():
    found = ask()
    machine, _ = scope_bench.machine(**WORN)
    own = machine.frontier.table.iloc[machine.frontier.best(0.5)]
    assert found.changes.empty
    assert found.is_reached
    assert_allclose([found.now_amount, found.later_amount, found.quiet_share],
                    own[["now_amount", "later_amount", "quiet_share"]].to_numpy(dtype=float))


def test_a_trip_that_costs_nothing_leaves_what_a_dear_one_replaces():
    near, far = ask(trip_amount=0.0), ask(trip_amount=20000.0)
    assert near.now_amount < far.now_amount
    changed = far.changes.set_index("part")
    assert (changed["qty_pcs"] >= changed["was_pcs"]).all()
    assert changed.loc["coil", ["was_action", "was_pcs", "action", "qty_pcs"]].tolist() == ["keep", 0, "replace", 3]


def test_opening_that_takes_for_ever_leaves_everything_shut():
    dear = ask(open_ratio=1000.0, quiet_share=0.0, trip_amount=0.0, horizon_years=0.01)
    assert dear.now_amount == 0
    changed = dear.changes.set_index("part")
    assert changed.loc["sleeve", ["was_action", "was_pcs", "action", "qty_pcs"]].tolist() == ["replace", 3, "keep", 0]


def test_a_year_counts_fewer_call_backs_than_five():
    one, five = ask(horizon_years=1.0), ask(horizon_years=5.0)
    assert one.later_amount < five.later_amount


def test_a_quieter_machine_costs_no_less():
    quietest = ask().most_quiet_share
    found = [ask(quiet_share=share) for share in np.linspace(0.1, quietest, 4)]
    in_all = [each.now_amount + each.later_amount for each in found]
    assert (np.diff(in_all) >= -1e-9).all()
    assert all(each.is_reached for each in found)
    assert_allclose(in_all[-1], found[-1].most_quiet_amount)


def test_a_chance_nothing_reaches_is_said_and_answered_with_the_cheapest():
    found = ask(quiet_share=1.0)
    cheapest = ask(quiet_share=0.0)
    assert not found.is_reached
    assert_allclose(found.now_amount + found.later_amount, cheapest.now_amount + cheapest.later_amount)
    assert found.quiet_share <= found.most_quiet_share < 1


@pytest.mark.parametrize(
    ("name", "value"),
    [("quiet_share", 1.2), ("quiet_share", -0.1), ("quiet_share", np.nan), ("horizon_years", 0.0),
     ("horizon_years", -1.0), ("trip_amount", -5.0), ("trip_amount", np.inf), ("open_ratio", -0.5),
     ("open_ratio", np.nan)],
)
def test_a_value_that_cannot_be_is_refused_by_name(name, value):
    with pytest.raises(InvalidParameter, match=name):
        ask(**{name: value})


def test_without_a_list_nothing_can_be_asked_and_the_files_are_named():
    with pytest.raises(InvalidParameter, match="assembly_parts.csv"):
        ask({"assembly_parts": "", "family_assemblies": "", "assemblies": ""})
