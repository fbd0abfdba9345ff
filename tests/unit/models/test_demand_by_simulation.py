"""The exact distribution of pieces against a plain simulation of the same shop: the simulation only checks it."""

import datetime

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels import discrete
from pipeline.kernels.compound import UseRows
from pipeline.models import demand, job_pipeline, use_per_job
from tests.support import hand_shop
from tests.support.jobs_to_come import SMOOTH, jobs_of

TODAY = datetime.date(2026, 1, 1)
DAYS = 91
DRAWS = 60_000
DAY = datetime.timedelta(days=1)


def made_shop():
    """Thirty delivered jobs of two scopes taking coils now and then, and three on the books."""
    rng = np.random.default_rng(3)
    jobs, taken = ["job family scope status booked_on planned_start_on started_on delivered_on no_parts_used"], [
        "job part qty_pcs used_on"]
    for n in range(30):
        scope = ("fix_only", "thorough")[n % 2]
        booked = TODAY - (24 * n + 90) * DAY
        start = booked + int(rng.integers(5, 40)) * DAY
        jobs.append(f"J{n} em {scope} delivered {booked} {start} {start} {start + 20 * DAY} yes")
        if rng.random() < (0.8 if scope == "thorough" else 0.3):
            taken.append(f"J{n} coil {1 + rng.poisson(1.5)} {start + int(rng.integers(0, 15)) * DAY}")
    jobs += [f"B{n} em thorough booked {TODAY - 10 * DAY} {TODAY + ahead * DAY} - - -"
             for n, ahead in enumerate((10, 60, 85))]
    return {"families": "family name\nem Electromechanical", "parts": "part description\ncoil Coil",
            "jobs": "\n".join(jobs), "job_parts": "\n".join(taken)}


SHARES = {"thorough": (4.0, 3.0), "fix_only": (1.5, 6.0)}  # Beta beliefs
SIZES = np.array([[0.0, 0.8, 0.2, 0.0, 0.0], [0.0, 0.1, 0.2, 0.3, 0.4]])  # pieces given use, at two nodes
SIZE_WEIGHT = np.array([0.7, 0.3])
KNOWN = [("K1", "em", "thorough", 10, 0.0), ("K2", "em", "thorough", 20, 0.6), ("K3", "em", "fix_only", 300, 0.0)]
STREAMS = [("em", "thorough", 0.05), ("em", "fix_only", 0.12)]


@pytest.fixture(scope="module")
def pipeline():
    with hand_shop.store(**made_shop()) as connection:
        return job_pipeline.fit(connection, TODAY)


def drawn_pieces(excess, rng):
    """Coils used in the window, draw by draw: one belief a scope, its jobs, the users among them, their pieces."""
    total = np.zeros(DRAWS, dtype=int)
    for (_, scope, per_day), (alpha, beta) in zip(STREAMS, SHARES.values(), strict=True):
        share, mean = rng.beta(alpha, beta, DRAWS), per_day * DAYS
        jobs = (rng.binomial(int(np.ceil(mean / -excess)), mean / np.ceil(mean / -excess), DRAWS) if excess < 0
                else rng.poisson(rng.gamma(mean / excess, excess, DRAWS)))
        users = rng.binomial(jobs, share)
        for _, _, of_scope, ahead_days, done in KNOWN:
            if of_scope == scope and ahead_days <= DAYS:  # of a job begun: it has not taken the part so far
                users += rng.random(DRAWS) < share * (1 - done) / (1 - share * done)
        sizes = SIZES[rng.choice(2, DRAWS, p=SIZE_WEIGHT)][:, 1:]
        total += rng.multinomial(users, sizes) @ np.arange(1, 5)
    return total


@pytest.mark.parametrize("excess", [0.8, -0.4])
def test_exact_and_simulated_distributions_agree(excess):
    cells = pd.DataFrame([("em", scope, "coil", 10) for scope in SHARES],
                         columns=["family", "scope", "part", "jobs_seen"])
    beliefs = UseRows(*np.array(list(SHARES.values())).T, np.stack([SIZES] * 2), np.stack([SIZE_WEIGHT] * 2))
    use = use_per_job.UsePerJob(cells, beliefs, SMOOTH, pd.DataFrame())
    pmf = demand.predict(use, jobs_of(KNOWN, STREAMS, excess=excess), DAYS).pmf("coil")
    drawn = drawn_pieces(excess, np.random.default_rng(4))
    seen = np.bincount(drawn, minlength=pmf.size)[: pmf.size] / DRAWS
    # Kolmogorov distance: 1.63/sqrt(n) would be passed by chance once in a hundred.
    assert np.abs(np.cumsum(seen) - np.cumsum(pmf)).max() < 1.63 / np.sqrt(DRAWS)
    assert_allclose(drawn.mean(), discrete.mean(pmf), rtol=0.02)
    assert_allclose(drawn.var(), discrete.variance(pmf), rtol=0.05)


def test_bookings_ahead_are_what_past_slips_say(pipeline):
    # Work began as planned and parts went out within 15 days: the first two are in, the third half and half.
    share, _ = pipeline.known_share(DAYS)
    assert share[0] > 0.9 and share[1] > 0.9
    past = pipeline.work.past
    rows = past.of_scope(pipeline.work.scopes.index("thorough"))
    within = (past.weight[rows] * past.taken_share[rows, DAYS - 85]).sum() / past.weight[rows].sum()
    assert_allclose(share[2], within * pipeline.known["come_share"].iloc[2], atol=0.08)
