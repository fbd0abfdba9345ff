"""Worlds that change in the middle of the records: each change does what is stated, and nothing else."""

from collections import Counter
from dataclasses import asdict, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.demo import generate, jobs, truth, use
from pipeline.demo.world import FAMILIES, SCOPES, Changes, Work, World

SEED = 23
BUSY = World(jobs_per_year=400.0, years=3)


def asked(changes, world=BUSY):
    """Jobs by their index, so that the same job is found again in another world."""
    return {job.index: job for job in jobs.arrivals(SEED, replace(world, changes=changes))}


def told(job):
    """Everything drawn for a job but the number in the book."""
    return {name: value for name, value in asdict(job).items() if name != "job"}


@pytest.fixture(scope="module")
def before():
    return asked(Changes())


def test_days_without_a_change_change_nothing():
    world = World(jobs_per_year=20, years=2)
    plain, other = (generate.simulate(9, replace(world, changes=changes)) for changes in (
        Changes(), Changes(ending_after_share=0.2, switch_after_share=0.3, policy_after_share=0.4)))
    assert plain.tables == other.tables == generate.simulate(9, world).tables
    assert all(plain.truth_tables[name] == other.truth_tables[name] for name in plain.truth_tables)
    assert other.truth_tables["changes"] == []


def test_an_unchanged_world_says_nothing_of_changes(shop):
    assert "changes" not in shop.truth_numbers["world"]
    assert set(shop.truth_numbers["files"]) == set(truth.MEANINGS)
    assert not set(shop.truth_tables) & {"changes", "use_after", "bookings_after"}


def test_a_family_ends_and_all_others_stay(before):
    changed = asked(Changes(ending_family="dotmatrix", ending_after_share=0.6))
    first = BUSY.day_after(0.6)
    gone = {i for i, job in before.items() if job.family == "dotmatrix" and job.asked >= first}
    assert len(gone) > 100
    assert set(changed) == set(before) - gone
    assert all(told(changed[i]) == told(before[i]) for i in changed)
    assert [job.job for job in changed.values()] == sorted(job.job for job in changed.values())


def test_the_rate_falls_by_the_familys_share(before):
    changed = asked(Changes(ending_family="dotmatrix", ending_after_share=0.5))
    first = BUSY.day_after(0.5)
    n, kept = (sum(job.asked >= first for job in some.values()) for some in (before, changed))
    assert abs(kept / n - (1 - 0.31)) < 4 * np.sqrt(0.31 * 0.69 / n)


def test_customers_switch_to_fix_only_in_the_stated_shares(before):
    changed = asked(Changes(thorough_to_fix_only_share=0.6, refresh_to_fix_only_share=0.2, switch_after_share=0.5))
    first = BUSY.day_after(0.5)
    for scope, share in (("thorough", 0.6), ("refresh", 0.2), ("fix_only", 0.0)):
        mine = [i for i, job in before.items() if job.scope == scope and job.asked >= first and i in changed]
        other = Counter(changed[i].scope for i in mine)
        assert set(other) <= {scope, "fix_only"}
        moved = 1 - other[scope] / len(mine)
        assert abs(moved - share) <= 4 * np.sqrt(share * (1 - share) / len(mine))


def test_those_who_do_not_switch_stay_as_they_were(before):
    changed = asked(Changes(thorough_to_fix_only_share=0.6, switch_after_share=0.5))
    first = BUSY.day_after(0.5)
    for i, job in changed.items():
        if i in before and (job.scope == before[i].scope or job.asked < first):
            assert told(job) == told(before[i])
    assert all(job.machine == before[i].machine for i, job in changed.items() if i in before)


@pytest.mark.parametrize("law", ["normal", "two_kinds"])
@pytest.mark.parametrize("shift", [1.2, -1.5])
def test_the_log_odds_of_every_use_by_policy_move_by_the_stated_amount(shift, law):
    world = World(work=Work(roughness_law=law), changes=Changes(policy_log_odds=shift))
    for family in FAMILIES:
        old, new = use.fitted(SEED, world, family), use.fitted_after(SEED, world, family)
        a, b = old.policy * old.share, new.policy * new.share
        some = a > 0
        moved = np.log(b[some] / (1 - b[some])) - np.log(a[some] / (1 - a[some]))
        wanted = np.broadcast_to([0.0, shift, shift], a.shape)[some]
        assert_allclose(moved, wanted, atol=1e-9)
        assert_allclose(b[~some], 0, atol=0)
        # Pieces not replaced by policy turn out bad as often as before.
        assert_allclose((new.share - b) / (1 - b), (old.share - a) / (1 - a), atol=1e-12)
        nodes, weights = use.roughness_nodes(world.work)
        mean = (use.logistic(new.intercept[..., None] + world.work.roughness_sd * nodes) * weights).sum(-1)
        assert_allclose(mean, new.share, atol=1e-9)


def test_the_share_after_by_hand():
    # Policy 0.2 and otherwise bad 0.1: used 1 - 0.8 * 0.9 = 0.28. Odds 0.25 doubled are 0.5, so policy 1/3 and
    # used 1 - 2/3 * 0.9 = 0.4.
    world = World(changes=Changes(policy_log_odds=float(np.log(2))))
    fit = use.fitted(SEED, world, "modern")
    share = np.full_like(fit.share, 0.28)
    by_hand = replace(fit, share=share, policy=np.full_like(share, 0.2 / 0.28))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(use, "fitted", lambda *_: by_hand)
        after = use.fitted_after.__wrapped__(SEED, world, "modern")
    assert_allclose(after.share, np.broadcast_to([0.28, 0.4, 0.4], share.shape), rtol=1e-12)
    by_policy = [0.2 / 0.28, (1 / 3) / 0.4, (1 / 3) / 0.4]
    assert_allclose(after.policy, np.broadcast_to(by_policy, share.shape), rtol=1e-12)


@pytest.mark.parametrize("shift, is_more", [(1.5, True), (-1.5, False)])
def test_jobs_planned_after_the_day_take_more_or_less_by_policy(before, shift, is_more):
    changed = asked(Changes(policy_log_odds=shift, policy_after_share=0.5))
    first = BUSY.day_after(0.5)
    assert set(changed) == set(before)
    for i, job in changed.items():
        if job.planned < first or job.scope == "fix_only":
            assert told(job) == told(before[i])
    for scope in ("refresh", "thorough"):
        was, now = (sum(reason == "policy" for i, job in some.items() if job.scope == scope and job.planned >= first
                        for _, _, reason in job.needs) for some in (before, changed))
        assert (now > 1.05 * was) if is_more else (now < 0.95 * was)


def test_jobs_after_the_change_use_what_the_truth_after_says():
    world = World(jobs_per_year=900.0, years=2, changes=Changes(policy_log_odds=1.2, policy_after_share=0.5))
    first = world.day_after(0.5)
    for family in ("solidstate", "dotmatrix"):
        fit = use.fitted(SEED, world, family)
        said = use.by_part_after(SEED, world, family, "refresh")
        mine = [job for job in jobs.arrivals(SEED, world)
                if job.family == family and job.scope == "refresh" and job.planned >= first]
        per_job = np.array([len({int(fit.part[i]) for i, _, _ in job.needs}) for job in mine])
        expected = sum(numbers[0] for numbers in said.values())
        former = sum(numbers[0] for numbers in use.by_part(SEED, world, family, "refresh").values())
        error = per_job.std() / np.sqrt(len(per_job))
        assert abs(per_job.mean() - expected) < 4 * error
        assert abs(per_job.mean() - former) > 4 * error


def test_the_truth_states_the_changes():
    changes = Changes(ending_family="modern", ending_after_share=0.75, thorough_to_fix_only_share=0.5,
                      refresh_to_fix_only_share=0.1, switch_after_share=0.5, policy_log_odds=-1.0,
                      policy_after_share=0.25)
    world = World(jobs_per_year=30, years=2, changes=changes)
    shop = generate.simulate(4, world)
    rows = {row["change"]: row for row in shop.truth_tables["changes"]}
    assert list(rows) == ["ending", "thorough_to_fix_only", "refresh_to_fix_only", "policy_log_odds"]
    assert rows["ending"]["family"] == "modern"
    assert rows["policy_log_odds"] == {"change": "policy_log_odds", "from_on": world.on(183), "family": "",
                                       "value": -1.0}
    assert {f"{name}.csv" for name in shop.truth_tables} == set(shop.truth_numbers["files"])
    assert shop.truth_numbers["world"]["changes"]["switch_after_share"] == 0.5


def test_bookings_after_by_hand():
    changes = Changes(ending_family="modern", thorough_to_fix_only_share=0.5, refresh_to_fix_only_share=0.1)
    shop = generate.simulate(4, World(jobs_per_year=100, years=1, changes=changes))
    after = {(row["family"], row["scope"]): row["jobs_per_year"] for row in shop.truth_tables["bookings_after"]}
    # Old machines: 100 * 0.17 a year, of which 0.46, 0.30, 0.24 before.
    assert after["electromech", "thorough"] == pytest.approx(17 * 0.12, abs=1e-4)
    assert after["electromech", "refresh"] == pytest.approx(17 * 0.27, abs=1e-4)
    assert after["electromech", "fix_only"] == pytest.approx(17 * 0.61, abs=1e-4)
    assert [after["modern", scope] for scope in SCOPES] == [0.0] * 3
    assert sum(after.values()) == pytest.approx(87, abs=1e-3)
    before = shop.truth_tables["bookings"]
    assert sum(row["jobs_per_year"] for row in before) == pytest.approx(100, abs=1e-3)


def test_use_after_differs_where_the_owner_has_a_policy():
    shop = generate.simulate(4, World(years=1, changes=Changes(policy_log_odds=1.0)))
    old, new = ({(r["family"], r["scope"], r["part"]): r["pieces_per_job"] for r in shop.truth_tables[name]}
                for name in ("use", "use_after"))
    assert set(old) == set(new)
    assert all(new[key] == old[key] for key in old if key[1] == "fix_only")
    assert all(new[key] >= old[key] for key in old)
    assert np.mean([new[key] > old[key] for key in old if key[1] == "thorough"]) > 0.5


@pytest.mark.parametrize("wrong, said", [
    ({"ending_family": "steam"}, "'steam'"),
    ({"ending_after_share": 0.0}, "ending_after_share is 0.0"),
    ({"switch_after_share": 1.0}, "switch_after_share is 1.0"),
    ({"policy_after_share": -0.1}, "policy_after_share is -0.1"),
    ({"thorough_to_fix_only_share": 1.2}, "thorough_to_fix_only_share is 1.2"),
    ({"refresh_to_fix_only_share": -0.2}, "refresh_to_fix_only_share is -0.2"),
    ({"policy_log_odds": float("nan")}, "policy_log_odds is nan"),
    ({"policy_log_odds": 11.0}, "wanted -10 to 10"),
])
def test_an_impossible_change_is_refused_in_words(wrong, said):
    with pytest.raises(ValueError, match=said):
        Changes(**wrong)


def test_changes_are_values():
    assert World(changes=Changes()) == World()
    assert hash(World(changes=Changes(policy_log_odds=1.0))) != hash(World())


@pytest.mark.parametrize("share, day", [(0.5, 731), (0.25, 366), (0.001, 2)])
def test_a_change_takes_hold_on_the_first_day_past_its_share(share, day):
    assert World().n_days == 1461
    assert World().day_after(share) == day
