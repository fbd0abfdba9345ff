"""Kinds of job: what each may need against the beliefs, how jobs make themselves known against sums by hand."""

import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.models import job_kinds, job_pipeline, use_per_job
from tests.support import hand_shop
from tests.support.kinds_by_hand import kinds_of, use_of

EM, SS = ("em", "thorough", 0.2, 4.0), ("ss", "refresh", 0.1, 8.0)
TODAY, DAY = datetime.date(2026, 1, 1), datetime.timedelta(days=1)
PAIRS = ((0.0, 0.0, 1.0, 0.0), (0.0, 0.4, 0.0, 0.6))


@pytest.fixture(scope="module")
def use():
    return use_of(("em", "thorough", "coil", 3, 1), ("em", "thorough", "lamp", 2, 6, PAIRS),
                  ("ss", "refresh", "lamp", 1, 9), ("ss", "fix_only", "lamp", 5, 5))


def test_share_and_doubt_are_those_of_the_belief(use):
    kinds = kinds_of(use, EM, SS)
    assert kinds.kinds == [("em", "thorough"), ("ss", "refresh")]
    assert kinds.parts == ["coil", "lamp"]
    assert_allclose(kinds.share, [[0.75, 0.25], [0, 0.1]])
    for kind, part, alpha, beta in ((0, 0, 3, 1), (0, 1, 2, 6), (1, 1, 1, 9)):
        belief = stats.beta(alpha, beta)
        assert_allclose(kinds.share_doubt[kind, part], belief.var() / belief.mean() ** 2)
    assert kinds.share_doubt[1, 0] == 0


def test_doubt_of_use_is_that_of_the_rate_and_of_the_share_together(use):
    kinds = kinds_of(use, EM, SS)
    # A gamma rate of shape 4 has a squared coefficient of variation of a quarter.
    assert_allclose(kinds.doubt[0], kinds.share_doubt[0] + 0.25)
    assert_allclose(kinds.doubt[1], kinds.share_doubt[1] + 0.125)
    assert_allclose(kinds.per_day, [0.2, 0.1])
    assert_allclose(kinds.shape, [4, 8])


def test_pieces_are_averaged_over_what_is_believed_about_them(use):
    kinds = kinds_of(use, EM, SS)
    assert_allclose(kinds.pieces_pmf[0, 1], [0, 0.2, 0.5, 0.3])
    assert_allclose(kinds.pieces_pmf[0, 0], [0, 1, 0, 0])
    assert_allclose(kinds.pieces_pmf[1, 0], [1, 0, 0, 0])  # not a part of that family
    assert_allclose(kinds.pieces_pmf.sum(axis=2), 1)
    assert_allclose(kinds.expected_pcs, [[0.75, 0.25 * 2.1], [0, 0.1]])


def test_parts_come_in_the_order_wanted_and_others_are_left_out(use):
    kinds = kinds_of(use, EM, SS, parts=["lamp", "unheard-of"])
    assert_allclose(kinds.share, [[0.25, 0], [0.1, 0]])
    assert_allclose(kinds.pieces_pmf[0], [[0, 0.2, 0.5, 0.3], [1, 0, 0, 0]])
    # the rows stay those of the model, whichever parts are wanted
    assert [row.tolist() for row in kinds.rows] == [[0, 1], [2]]


def test_a_kind_nothing_is_known_of_needs_nothing(use):
    kinds = kinds_of(use, EM, ("zz", "refresh", 0.3, 1.0))
    assert_array_equal(kinds.share[1], 0)
    assert kinds.rows[1].size == 0 and kinds.per_day[1] == pytest.approx(0.3)


def test_the_fitted_models_pieces_per_job_are_kept():
    jobs, taken = [], []
    for i in range(12):
        booked = TODAY - (30 * i + 80) * DAY
        jobs.append(f"F{i} em {('thorough', 'fix_only')[i % 2]} delivered {booked} {booked + 20 * DAY} "
                    f"{booked + 40 * DAY}")
        taken += [f"F{i} coil {1 + i % 3} {booked + 26 * DAY}"] * (i % 4 > 0)
        taken += [f"F{i} lamp 8 {booked + 26 * DAY}"] * (i % 3 == 0)
    with hand_shop.store(families="family name\nem E", parts="part description\ncoil Coil\nlamp Lamp",
                         jobs="job family scope status booked_on started_on delivered_on\n" + "\n".join(jobs),
                         job_parts="job part qty_pcs used_on\n" + "\n".join(taken)) as connection:
        use, pipeline = use_per_job.fit(connection, is_brief=True), job_pipeline.fit(connection, TODAY)
    kinds = job_kinds.fit(use, pipeline, ["lamp", "coil"])
    rates = use.rates.set_index(["family", "scope", "part"])
    assert len(kinds.kinds) == 2
    for kind, key in enumerate(kinds.kinds):
        for place, part in enumerate(kinds.parts):
            cell = rates.loc[(*key, part)]
            assert_allclose(kinds.share[kind, place], cell["use_share"])
            assert_allclose(kinds.expected_pcs[kind, place], cell["expected_pcs_per_job"])
    assert_allclose(kinds.per_day, (pipeline.bookings["shape"] / pipeline.bookings["rate_days"]
                                    * pipeline.bookings["alive_share"]))
    for kind in range(2):
        assert_array_equal(kinds.notice_days[kind], 20)
        assert_array_equal(kinds.lag_days[kind], 6)


def test_jobs_booked_far_ahead_are_known_in_time(use):
    told = kinds_of(use, EM, notice=(200.0,) * 4, lags=(10,)).announcements()
    assert_allclose(told.unknown(210), 0)
    assert_allclose(told.unknown(220), 10 * 0.2)


def test_of_jobs_without_a_booking_none_is_known(use):
    told = kinds_of(use, EM, SS, notice=()).announcements(50)
    for days in (0, 1, 17.5, 49, 80):
        assert_allclose(told.unknown(days), np.array([0.2, 0.1]) * days)


def test_announcements_are_the_sums_by_hand(use):
    # Notice 2 or 5 days, lag 0 (weight 1) or 3 (weight 3): from booking to taking 2, 5, 5 or 8 days.
    told = kinds_of(use, EM, notice=(2.0, 5.0) * 2, lags=(0, 3), weight=(1, 3)).announcements(20)
    total, chance = np.array([2, 5, 5, 8]), np.array([1, 3, 1, 3]) / 8
    for days in range(20):
        assert_allclose(told.unknown_jobs[0, days], 0.2 * chance @ np.maximum(days - total, 0))
        assert_allclose(told.lag_share[0, days], 0.25 if days < 3 else 1.0)


@pytest.mark.parametrize(("notice", "lags"), [((0.0, 3.0, 20.0, 90.0), (0, 4, 40)), ((7.0,) * 5, (1, 1, 2))])
def test_announcements_rise_with_the_days_and_never_faster_than_jobs_come(use, notice, lags):
    told = kinds_of(use, EM, SS, notice=notice, lags=lags).announcements(200)
    steps = np.diff(told.unknown_jobs, axis=1)
    assert (steps >= -1e-12).all() and (steps <= np.array([[0.2], [0.1]]) + 1e-12).all()
    assert (np.diff(steps, axis=1) >= -1e-12).all()  # the further off, the fewer are known
    assert (np.diff(told.lag_share, axis=1) >= 0).all()
    assert_allclose(told.lag_share[:, -1], 1)
    assert_allclose(told.unknown_jobs[:, 0], 0)


def test_a_shop_without_a_booking_has_no_kind():
    kinds = kinds_of(use_of(("em", "thorough", "coil", 3, 1)))
    assert kinds.kinds == [] and kinds.share.shape == (0, 1) and kinds.doubt.shape == (0, 1)
    assert kinds.announcements(9).unknown(3).shape == (0,)


def test_more_notice_leaves_fewer_unknown(use):
    short, long = (kinds_of(use, EM, notice=(days,) * 4).announcements().unknown_jobs for days in (5.0, 30.0))
    assert (long <= short).all() and long[0, 100] < short[0, 100]


def test_a_booking_written_after_the_start_is_no_notice(use):
    kinds = kinds_of(use, EM, notice=(-3.0,) * 4, lags=(4,))
    assert_array_equal(kinds.notice_days[0], 0)
    assert_allclose(kinds.announcements(20).unknown(10), 0.2 * 6)
