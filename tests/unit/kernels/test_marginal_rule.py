"""The plan's reorder rule: by hand with one lead time, with more jobs or dearer places, and its refusals."""

from dataclasses import replace as changed

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import marginal_reorder as margin
from pipeline.kernels.marginal_rule import Announcements, MarginalRule, Stock
from pipeline.kernels.shop_replay import KnownJobs, ReplayJobs, Supply, replay

N_DAYS = 120
NONE = KnownJobs(*(np.zeros(0, dtype=np.int64) for _ in range(3)))


def known_of(*rows):
    """Known jobs: (run, kind, days ahead)."""
    return KnownJobs(*np.array(rows, dtype=np.int64).reshape(-1, 3).T)


def announced_of(unknown_per_day=0.0, lag_days=0, n_kinds=1, n_days=N_DAYS):
    """Jobs nobody knows of at a steady rate; parts are taken a fixed number of days after the day planned."""
    lag = np.tile((np.arange(n_days) >= lag_days).astype(float), (n_kinds, 1))
    return Announcements(np.tile(unknown_per_day * np.arange(n_days), (n_kinds, 1)), lag)


def rule_of(share=((1.0,),), lead=9.5, least=0.1, pieces=(0.0, 1.0), lot=1, join=1.0, vendor=None, n_runs=1, doubt=0.0,
            announced=None):
    """A rule for parts of one lead time (or several equally likely ones) that take the same pieces if needed."""
    share = np.asarray(share, dtype=float)
    n_kinds, n_parts = share.shape
    needs = margin.needs(share, np.tile(pieces, (n_kinds, n_parts, 1)), np.full(share.shape, 5.0))
    stock = Stock(np.zeros(n_parts, dtype=np.int64) if vendor is None else np.array(vendor),
                  np.tile(np.atleast_1d(np.asarray(lead, dtype=float)), (n_parts, 1)),
                  np.broadcast_to(lot, n_parts), np.broadcast_to(np.asarray(least, dtype=float), n_parts), join)
    return MarginalRule(needs, np.full(share.shape, doubt), announced or announced_of(n_kinds=n_kinds), stock, n_runs)


def test_unknown_jobs_are_read_between_days_and_drawn_on_beyond_the_last():
    told = Announcements(np.array([[0.0, 1.0, 4.0], [0.0, 2.0, 2.0]]), np.ones((2, 3)))
    assert_allclose(told.unknown(0), [0, 0])
    assert_allclose(told.unknown(1.5), [2.5, 2.0])
    assert_allclose(told.unknown(2), [4, 2])
    assert_allclose(told.unknown(4), [10, 2])


def test_the_chance_of_a_known_job_is_that_of_its_lag_given_it_has_not_come_yet():
    told = Announcements(np.zeros((2, 5)), np.array([[0.1, 0.3, 0.6, 1.0, 1.0], [0.0, 0.0, 0.5, 0.5, 1.0]]))
    known = known_of((0, 0, 4), (0, 0, 1), (0, 0, -2), (0, 1, -2), (0, 0, -9))
    found = told.known_share(known, np.array([0.0, 2.0, 3.9, 5.0, 50.0]))
    assert_allclose(found[:, 0], [0, 0, 0, 0.3, 1])  # planned in 4 days: one day after it, by day 5
    assert_allclose(found[:, 1], [0, 0.3, 0.6, 1, 1])
    assert_allclose(found[:, 2], [0, 1, 1, 1, 1])  # overdue by two: 0.4 of all were still to come, all a day later
    assert_allclose(found[:, 3], [0, 1, 1, 1, 1])
    assert_allclose(found[:, 4], 0)  # overdue beyond all that was seen: nothing tells when it comes


def test_a_job_planned_for_today_and_not_torn_down_has_not_come_at_once():
    # The day's jobs were torn down before the day's orders: of the 0.9 that take their parts later, 0.2 do tomorrow.
    told = Announcements(np.zeros((1, 4)), np.array([[0.1, 0.3, 1.0, 1.0]]))
    found = told.known_share(known_of((0, 0, 0)), np.array([0.0, 1.0, 2.0]))
    assert_allclose(found[:, 0], [0, 0.2 / 0.9, 1])


def test_a_sure_part_of_one_known_job_is_ordered_just_in_time_and_not_before():
    # An order of today is here in 9.5 days, one of next week in 16.5: today's is for the jobs of days 10 to 16.
    rule = rule_of()
    for ahead in range(40):
        wanted = rule.wanted_pcs(np.array([[0]]), known_of((0, 0, ahead)))
        assert_array_equal(wanted, [[1 if 10 <= ahead <= 16 else 0]], err_msg=f"{ahead} days ahead")


@pytest.mark.parametrize("lag", [0, 5])
def test_the_day_is_that_of_the_taking_not_of_the_plan(lag):
    rule = rule_of(announced=announced_of(lag_days=lag))
    is_ordered = [bool(rule.wanted_pcs(np.array([[0]]), known_of((0, 0, ahead)))) for ahead in range(40)]
    assert_array_equal(np.flatnonzero(is_ordered) + lag, np.arange(10, 17))


def test_a_known_job_never_asks_for_more_than_it_takes():
    # With its piece there, or on its way, nothing is ordered, whichever day of the week it comes on.
    rule = rule_of()
    for ahead in range(40):
        assert_array_equal(rule.wanted_pcs(np.array([[1]]), known_of((0, 0, ahead))), [[0]])
    pair = rule_of(pieces=(0.0, 0.0, 1.0))
    for position, wanted in ((0, 2), (1, 1), (2, 0)):
        assert_array_equal(pair.wanted_pcs(np.array([[position]]), known_of((0, 0, 12))), [[wanted]])


def test_jobs_of_one_week_are_each_served_wherever_in_it_they_fall():
    rule = rule_of(least=0.9)
    for days in ((10, 10), (11, 15), (16, 16)):
        known = known_of(*((0, 0, day) for day in days))
        assert_array_equal(rule.wanted_pcs(np.array([[0]]), known), [[2]])
        assert_array_equal(rule.wanted_pcs(np.array([[2]]), known), [[0]])


def test_a_sooner_job_takes_the_piece_that_lies_there_from_a_later_one():
    rule = rule_of()
    assert_array_equal(rule.wanted_pcs(np.array([[1]]), known_of((0, 0, 3), (0, 0, 12))), [[1]])
    assert_array_equal(rule.wanted_pcs(np.array([[1]]), known_of((0, 0, 30), (0, 0, 12))), [[0]])
    assert_array_equal(rule.wanted_pcs(np.array([[2]]), known_of((0, 0, 3), (0, 0, 12))), [[0]])


def test_the_gain_of_a_known_and_an_unknown_job_by_hand():
    # A known job of the week needs the part for certain; unknown ones take 0.05 a day, a Poisson number. At position
    # 1 the known job stalls if one came in 9.5 days and half a week (those of the week come before it half the time).
    rule = rule_of(announced=announced_of(0.05), join=1.0)
    none = np.exp(-0.05 * 13.0)
    # the unknown jobs of the week, 0.35, stall at position 1 if one came before, or half of the known job did
    worth = (1 - none) + 0.35 * (1 - 0.5 * none)
    for factor, point in ((0.999, 1), (1.001, 0)):
        must, _ = changed(rule, stock=changed(rule.stock, least_gain=np.array([worth * factor]))).reorder_points(
            known_of((0, 0, 13)))
        assert_array_equal(must, [[point]])


def test_lead_times_are_weighed_alike():
    # Day 13 is in the week after 9.5 days, not in that after 20.5: half a job.
    for least, wanted in ((0.49, 1), (0.51, 0)):
        rule = rule_of(lead=(9.5, 20.5), least=least)
        assert_array_equal(rule.wanted_pcs(np.array([[0]]), known_of((0, 0, 13))), [[wanted]])


def test_runs_and_kinds_are_apart():
    rule = rule_of(share=((1.0, 0.0), (0.0, 1.0)), n_runs=3)
    must, _ = rule.reorder_points(known_of((0, 0, 12), (2, 1, 12), (2, 1, 13)))
    assert_array_equal(must[:2], [[0, -1], [-1, -1]])
    assert must[2, 0] == -1 and must[2, 1] >= 1


def random_rule(rng, n_parts=4, n_runs=2):
    announced = announced_of(rng.uniform(0, 0.08), int(rng.integers(0, 6)), n_kinds=2)
    return rule_of(rng.uniform(0, 1, (2, n_parts)), rng.uniform(1, 30, 3), np.exp(rng.uniform(-6, 0, n_parts)),
                   rng.dirichlet(np.ones(4)), rng.integers(1, 4, n_parts), rng.uniform(0.2, 1), n_runs=n_runs,
                   doubt=rng.uniform(0, 1), announced=announced)


def random_known(rng, n_known, n_runs=2):
    return KnownJobs(rng.integers(0, n_runs, n_known), rng.integers(0, 2, n_known), rng.integers(-3, 45, n_known))


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_a_dearer_place_never_raises_a_point(seed):
    rng = np.random.default_rng(seed)
    rule, known = random_rule(rng), random_known(rng, 8)
    dearer = changed(rule, stock=changed(rule.stock, least_gain=rule.stock.least_gain * rng.uniform(1, 5, 4)))
    for cheap, dear in zip(rule.reorder_points(known), dearer.reorder_points(known), strict=True):
        assert (dear <= cheap).all()
    assert (dearer.opening_pcs <= rule.opening_pcs).all()


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_more_known_jobs_never_lower_a_point(seed):
    rng = np.random.default_rng(seed)
    rule, many = random_rule(rng), random_known(rng, 9)
    few = KnownJobs(*(getattr(many, name)[:5] for name in ("run", "kind", "ahead_days")))
    for less, more in zip(rule.reorder_points(few), rule.reorder_points(many), strict=True):
        assert (more >= less).all()
    base, _ = rule.reorder_points(NONE)
    assert (rule.reorder_points(few)[0] >= base).all()


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_lots_are_whole_and_lift_the_position_over_the_point_and_no_further(seed):
    rng = np.random.default_rng(seed)
    rule, known = random_rule(rng), random_known(rng, 6)
    must, may = rule.reorder_points(known)
    position = rng.integers(-3, 6, must.shape)
    wanted = rule.wanted_pcs(position, known)
    assert (wanted % rule.stock.lot_pcs == 0).all() and (may >= must).all()
    goes_out = (position <= must).any(axis=1, keepdims=True)  # one vendor
    point = np.where(goes_out, may, must)
    assert_array_equal(wanted > 0, position <= point)
    is_short = wanted > 0
    assert (position + wanted > point)[is_short].all()
    assert (position + wanted - rule.stock.lot_pcs <= point)[is_short].all()


def joining_rule(**changes):
    """Parts 0 and 1 of one vendor, part 2 of another; a known job in the week needs them by 1, 0.3 and 0.3."""
    return rule_of(share=((1.0, 0.3, 0.3),), least=(0.5, 0.5, 0.5), join=0.4, vendor=[0, 0, 1], **changes)


def test_a_part_joins_only_an_order_of_its_own_vendor_that_goes_out_anyhow():
    rule, known = joining_rule(lot=(1, 5, 5)), known_of((0, 0, 12))
    must, may = rule.reorder_points(known)
    assert_array_equal(must, [[0, -1, -1]])  # 0.3 of a job is not worth 0.5
    assert_array_equal(may, [[0, 0, 0]])  # but 0.4 of that
    assert_array_equal(rule.wanted_pcs(np.array([[0, 0, 0]]), known), [[1, 5, 0]])
    assert_array_equal(rule.wanted_pcs(np.array([[1, 0, 0]]), known), [[0, 0, 0]])  # nothing goes out
    assert_array_equal(rule.wanted_pcs(np.array([[0, 1, 0]]), known), [[1, 0, 0]])  # above its second point
    assert_array_equal(rule.wanted_pcs(np.array([[1, 0, -1]]), known), [[0, 0, 5]])


def test_orders_of_one_run_carry_no_part_of_another():
    rule, known = joining_rule(n_runs=2), known_of((0, 0, 12), (1, 0, 12))
    assert_array_equal(rule.wanted_pcs(np.array([[0, 0, 0], [1, 0, 0]]), known), [[1, 1, 0], [0, 0, 0]])


def test_with_a_join_share_of_one_nothing_joins():
    rule, known = joining_rule(), known_of((0, 0, 12))
    alone = changed(rule, stock=changed(rule.stock, join_share=1.0))
    assert_array_equal(alone.wanted_pcs(np.array([[0, 0, 0]]), known), [[1, 0, 0]])


def test_a_part_never_ordered_ahead_is_ordered_for_what_is_owed_alone():
    rule = rule_of(share=((1.0, 1.0),), least=(np.inf, 0.1), lot=(4, 1), announced=announced_of(0.1))
    known = known_of(*((0, 0, day) for day in range(10, 17)))
    must, may = rule.reorder_points(known)
    assert must[0, 0] == may[0, 0] == -1 and must[0, 1] > 0
    assert rule.opening_pcs[0] == 0 < rule.opening_pcs[1]
    for position, wanted in ((0, 0), (-1, 4), (-4, 4), (-5, 8)):
        assert rule.wanted_pcs(np.array([[position, 99]]), known)[0, 0] == wanted


def test_without_any_kind_of_job_only_what_is_owed_is_ordered():
    rule = rule_of(share=np.zeros((0, 2)), announced=announced_of(n_kinds=0), lot=3)
    assert_array_equal(rule.opening_pcs, [0, 0])
    assert_array_equal(rule.wanted_pcs(np.array([[0, -1]]), NONE), [[0, 3]])


def test_the_opening_shelf_is_the_point_without_known_jobs_and_a_lot():
    rule = rule_of(lot=3, announced=announced_of(0.2))
    must, _ = rule.reorder_points(NONE)
    assert must[0, 0] > 0
    assert_array_equal(rule.opening_pcs, must[0] + 3)
    assert_array_equal(rule_of(lot=3).opening_pcs, [0])  # no job comes that nobody knows of


def test_the_point_without_known_jobs_is_where_the_poisson_tail_pays():
    # 0.1 jobs a day: before the middle of the week 1.3, in it 0.7; a piece is held while 0.7 P(N >= s) is 0.1 or more.
    rule = rule_of(announced=announced_of(0.1))
    tail = 0.7 * (1 - np.exp(-1.3) * np.cumsum(1.3 ** np.arange(6) / np.array([1, 1, 2, 6, 24, 120])))
    worth = np.r_[0.7, tail] >= 0.1
    assert_array_equal(rule.reorder_points(NONE)[0], [[worth.sum() - 1]])


def test_replayed_with_sure_lead_times_every_booked_job_is_ready():
    rng = np.random.default_rng(5)
    day = np.sort(rng.integers(40, 300, 25))
    jobs = ReplayJobs(np.zeros(25, dtype=np.int64), np.zeros(25, dtype=np.int64), day - 40, day, day,
                      np.ones((25, 1), dtype=np.int64))
    supply = Supply(np.zeros(1, dtype=np.int64), np.ones(1, dtype=np.int64), np.ones(1), np.full((1, 1, 50), 10),
                    np.zeros(1), np.full(1, np.inf))
    found = replay(jobs, supply, rule_of(least=0.3), 330)
    assert_array_equal(found.wait_days, 0)
    assert_array_equal(found.received_pcs, [[25]])  # and nothing for nobody
    assert found.shelf_amount[0] * 330 / 25 < 7  # a piece lies there for less than a week


@pytest.mark.parametrize("change", [
    {"stock": Stock(np.zeros(2, dtype=int), np.ones((2, 1)), np.ones(2, dtype=int), np.ones(2))},
    {"stock": Stock(np.zeros(1, dtype=int), np.ones((2, 1)), np.ones(1, dtype=int), np.ones(1))},
    {"needs": margin.needs(np.ones((1, 2)), np.tile([0.0, 1.0], (1, 2, 1)), np.ones((1, 2)))},
])
def test_shapes_that_do_not_fit_are_refused(change):
    with pytest.raises(InvalidParameter, match="do not fit"):
        changed(rule_of(), **change)
