"""The shelf proved on twenty seeded worlds: two years after their records, true jobs and lead times, common draws.

Run with `python3 -m pipeline test -m slow tests/benchmarks/test_shelf_proof.py`; about 40 minutes of one core. The
plan is made from the world's records alone; what happens then is the generator's truth. Figures printed are those of a
closing note. The equal-share rule orders every part for itself in its best lots; the plan's lots are smaller, since its
parts join orders that go out anyhow.
"""

import numpy as np
import pandas as pd
import pytest

from tests.support import forecast_worlds, shelf_proof

pytestmark = pytest.mark.slow

MOST_CASH = {0.98: 0.75, 0.99: 0.75, 0.995: 0.85}
PREDICTED_AT = (100.0, 20.0)


@pytest.fixture(scope="module")
def worlds(tmp_path_factory):
    folder = tmp_path_factory.mktemp("worlds")
    found = {}
    for entry in forecast_worlds.STEADY:
        plan, levels = shelf_proof.plan_of(entry, folder)
        outcome = shelf_proof.outcomes(entry, plan, levels)
        promised = {times: shelf_proof.predicted(plan, times) for times in PREDICTED_AT}
        found[entry.name] = outcome, shelf_proof.beside(outcome), promised
    return found


def interval(values):
    """Mean over worlds and its 90 % interval."""
    values = np.asarray(values, dtype=float)
    half = 1.645 * values.std(ddof=1) / np.sqrt(values.size)
    return values.mean(), values.mean() - half, values.mean() + half


@pytest.mark.parametrize("share", MOST_CASH)
def test_the_same_jobs_ready_for_less_cash(worlds, share):
    ratios = [beside.set_index("level").loc[share, "cash_ratio"] for _, beside, _ in worlds.values()]
    mean, low, high = interval(ratios)
    print(f"{share:.1%}: cash of the plan {mean:.3f} of the equal-share rule's ({low:.3f}-{high:.3f})")
    assert mean <= MOST_CASH[share]


@pytest.mark.parametrize("share", shelf_proof.SHARES)
def test_fewer_days_waited_at_equal_cash(worlds, share):
    saved = [beside.set_index("level").loc[share, "wait_saved"].mean() for _, beside, _ in worlds.values()]
    mean, low, high = interval(saved)
    print(f"{share:.1%}: {mean:.2f} days a job fewer ({low:.2f}-{high:.2f}), in {sum(np.array(saved) > 0)} worlds")
    assert low > 0


def test_freight_is_a_fifth_below_ordering_each_part_when_it_falls_due(worlds):
    saved = []
    for outcome, _, _ in worlds.values():
        plan, due = (outcome[outcome["rule"] == rule].set_index("level") for rule in ("plan", "when due"))
        saved += [1 - plan.loc[due.index, "freight"].sum() / due["freight"].sum()]
    mean, low, high = interval(saved)
    print(f"freight {mean:.1%} below ordering when due ({low:.1%}-{high:.1%})")
    assert mean >= 0.2


def test_todays_habit_makes_fewer_jobs_ready_for_its_cash(worlds):
    more = []
    for outcome, _, _ in worlds.values():
        plan = outcome[outcome["rule"] == "plan"].sort_values("cash")
        habit = outcome[outcome["rule"] == "habit"].iloc[0]
        more.append(np.interp(habit["cash"], plan["cash"], plan["ready"]) - habit["ready"])
    mean, low, high = interval(more)
    print(f"at the habit's cash {mean:.1%} more jobs ready ({low:.1%}-{high:.1%})")
    assert low > 0


def test_what_is_promised_is_kept_in_the_true_world(worlds):
    rows = [(name, times, share, outcome.set_index(["rule", "level"]).loc[("plan", times), "all_ready"])
            for name, (outcome, _, promised) in worlds.items() for times, share in promised.items()]
    found = pd.DataFrame(rows, columns=["world", "times", "promised", "kept"])
    found["gap"] = found["promised"] - found["kept"]
    print(found.to_string(), interval(found["gap"]), "worst", found["gap"].abs().max())
    assert abs(found["gap"].mean()) <= 0.05
