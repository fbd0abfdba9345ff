"""Demand over lead times: windows, what is certain, and a week of the long run."""

import datetime
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.kernels.compound import UseRows
from pipeline.models import demand, shelf_demand
from pipeline.models.reservations import Reservations
from pipeline.models.use_per_job import UsePerJob
from tests.support.jobs_to_come import SMOOTH

TODAY = datetime.date(2026, 3, 1)
PARTS = ["bat", "coil", "lamp"]


@pytest.fixture
def use():
    """Every thorough job takes one coil for certain, half take a bat."""
    rates = pd.DataFrame({"family": "em", "scope": "thorough", "part": ["coil", "bat"], "jobs_seen": 10})
    numbers = np.array([1e9, 1e6]), np.array([1e-3, 1e6])
    return UsePerJob(rates, UseRows(*numbers, np.tile([0.0, 1.0], (2, 1, 1)), np.ones((2, 1))), SMOOTH, pd.DataFrame())


@dataclass(frozen=True)
class Later:
    """Jobs made by hand: a known one takes its parts in so many days, one not yet booked 28 days after its booking."""

    today: datetime.date
    known: pd.DataFrame
    taken: pd.DataFrame
    bookings_per_day: float | None
    delay_days: float = 28.0

    def known_share(self, days):
        return (self.known["ahead_days"] <= days).to_numpy(dtype=float), np.zeros(len(self.known))

    def unbooked(self, days):
        streams = pd.DataFrame({"family": ["em"], "scope": ["thorough"]})
        if self.bookings_per_day is None:
            return streams[:0].assign(unbooked_mean=0.0, unbooked_excess=0.0)
        return streams.assign(unbooked_mean=self.bookings_per_day * max(days - self.delay_days, 0), unbooked_excess=0.0)

    def steady(self):
        return replace(self, known=self.known[:0], delay_days=0.0)


def reservations_of(known=(), written=(), bookings_per_day=0.1):
    """Known jobs (job, family, scope, days ahead); written needs; bookings a day."""
    jobs = Later(TODAY, pd.DataFrame(known, columns=["job", "family", "scope", "ahead_days"]),
                 pd.DataFrame(columns=["job", "part"]), bookings_per_day)
    return Reservations(pd.DataFrame(written, columns=["job", "part", "still_pcs", "needed_on"]), jobs)


def mean(pmf):
    return pmf @ np.arange(pmf.shape[1])


def test_a_week_of_the_long_run_counts_every_booking(use):
    found = shelf_demand.predict(PARTS, use, reservations_of())
    assert_allclose(mean(found.week_pmf), [0.35, 0.7, 0.0], rtol=1e-4)


def test_jobs_not_yet_booked_reach_the_shelf_only_after_their_delay(use):
    found = shelf_demand.predict(PARTS, use, reservations_of())
    weeks = shelf_demand.WINDOW_WEEKS
    assert_allclose([mean(pmf)[1] for pmf in found.coming], np.maximum(weeks * 7 - 28, 0) * 0.1, rtol=1e-4, atol=1e-6)


def test_written_needs_are_in_the_windows_to_the_piece(use):
    written = [("R1", "lamp", 4, TODAY), ("B1", "lamp", 3, TODAY + datetime.timedelta(days=10))]
    found = shelf_demand.predict(PARTS, use, reservations_of(written=written))
    assert [int(pmf[2].argmax()) for pmf in found.coming] == [4, 7, 7, 7, 7, 7, 7]
    assert all(pmf[2].max() == 1 for pmf in found.coming)


def test_a_booked_job_is_in_the_windows_when_its_delay_ends(use):
    known = [("B1", "em", "thorough", 8)]  # takes its coil in 8 days
    found = shelf_demand.predict(PARTS, use, reservations_of(known, bookings_per_day=1e-9))
    assert_allclose([mean(pmf)[1] for pmf in found.coming], [0, 1, 1, 1, 1, 1, 1], atol=1e-4)


def test_distributions_sum_to_one(use):
    found = shelf_demand.predict(PARTS, use, reservations_of())
    for pmf in (found.week_pmf, *found.coming):
        assert_allclose(pmf.sum(axis=1), 1)


def test_the_use_of_some_parts_alone_predicts_them_alike(use):
    reserved = reservations_of()
    whole = demand.predict(use, reserved.others, 60)
    some = demand.predict(shelf_demand.of_parts(use, ["coil"]), reserved.others, 60)
    assert list(some.by_part["part"]) == ["coil"]
    assert_allclose(some.pmf("coil"), whole.pmf("coil"), atol=1e-12)


class TestWindowShares:
    def test_lead_times_are_rounded_to_weeks_and_a_week_of_review_is_added(self):
        # half weeks: arrives in the 1st -> window 1; 2nd or 3rd -> 2; 4th or 5th -> 3
        half_weeks = np.eye(6)
        assert_array_equal(shelf_demand.window_shares(half_weeks)[:5] @ shelf_demand.WINDOW_WEEKS, [1, 2, 2, 3, 3])

    def test_a_window_not_laid_out_keeps_its_mean_length(self):
        half_weeks = np.eye(20)[[10]]  # arrives about 5.25 weeks later: 5 and one of review
        shares = shelf_demand.window_shares(half_weeks)
        assert_allclose(shares @ shelf_demand.WINDOW_WEEKS, 6)
        assert (shares > 0).sum() == 2

    def test_rows_sum_to_one_and_very_late_counts_as_the_longest(self):
        rng = np.random.default_rng(1)
        half_weeks = rng.dirichlet(np.ones(80), size=5)
        shares = shelf_demand.window_shares(half_weeks)
        assert_allclose(shares.sum(axis=1), 1)
        assert_allclose(shelf_demand.window_shares(np.eye(80)[[79]])[0, -1], 1)

    def test_mixing_windows_mixes_their_distributions(self):
        short, long = np.array([[1.0, 0.0]]), np.array([[0.0, 0.0, 1.0]])
        windows = [short, long] + [short] * (len(shelf_demand.WINDOW_WEEKS) - 2)
        shares = np.zeros((1, len(windows)))
        shares[0, :2] = 0.25, 0.75
        assert_allclose(shelf_demand.mixed(windows, shares), [[0.25, 0, 0.75]])


def test_a_shop_without_bookings_has_no_demand_but_what_is_written(use):
    reserved = reservations_of(written=[("R1", "coil", 2, TODAY)], bookings_per_day=None)
    found = shelf_demand.predict(PARTS, use, reserved)
    assert_array_equal(found.coming[0].argmax(axis=1), [0, 2, 0])
    assert_allclose(mean(found.week_pmf), 0)
