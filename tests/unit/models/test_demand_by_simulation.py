"""The exact distribution of pieces against a plain simulation of the same shop: the simulation only checks it."""

import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels import delays
from pipeline.models import demand, job_pipeline, use_per_job
from tests.support import hand_shop

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


@pytest.fixture(scope="module")
def shop():
    with hand_shop.store(**made_shop()) as connection:
        return use_per_job.fit(connection), job_pipeline.fit(connection, TODAY)


def days_drawn(delay, size, rng):
    """Delays drawn from their steps and tail."""
    step = rng.choice(delay.days.size + 1, size, p=np.append(delay.share, delay.tail_share))
    tail = delay.days[-1] + rng.exponential(delay.tail_days, size)
    return np.where(step < delay.days.size, np.append(delay.days, 0)[step], tail)


def simulated(shop, rng):
    """Coils used in the window, draw by draw: one belief a scope, then bookings day by day and their delays."""
    use, pipeline = shop
    total = np.zeros(DRAWS, dtype=int)
    for row, cell in enumerate(use.rates.itertuples(index=False)):
        belief, size = use.beliefs, use.beliefs.extra_size[row]
        share = rng.beta(belief.alpha[row], belief.beta[row], DRAWS)
        stop = rng.beta(belief.extra_alpha[row], belief.extra_beta[row], DRAWS)
        stream = pipeline.bookings[pipeline.bookings["scope"] == cell.scope].iloc[0]
        bookings = rng.poisson(rng.gamma(stream["shape"], 1 / stream["rate_days"], DRAWS) * DAYS)
        draw = np.repeat(np.arange(DRAWS), bookings)
        delay = pipeline.delays[cell.scope, "booking_days"]
        used_on = rng.uniform(0, DAYS, draw.size) + days_drawn(delay, draw.size, rng)
        jobs = np.bincount(draw[used_on <= DAYS], minlength=DRAWS)
        for known in pipeline.known[pipeline.known["scope"] == cell.scope].itertuples(index=False):
            chance = delays.window_share(pipeline.delays[cell.scope, known.clock], [known.elapsed_days], DAYS)[0]
            jobs += rng.random(DRAWS) < chance
        users = rng.binomial(jobs, share)
        total += users + np.where(users > 0, rng.negative_binomial(np.maximum(users, 1) * size, stop), 0)
    return total


def test_exact_and_simulated_distributions_agree(shop):
    pmf = demand.predict(*shop, DAYS).pmf("coil")
    drawn = simulated(shop, np.random.default_rng(4))
    seen = np.bincount(drawn, minlength=pmf.size)[: pmf.size] / DRAWS
    # Kolmogorov distance: 1.63/sqrt(n) would be passed by chance once in a hundred.
    assert np.abs(np.cumsum(seen) - np.cumsum(pmf)).max() < 1.63 / np.sqrt(DRAWS) + 1e-3
    assert_allclose(drawn.mean(), pmf @ np.arange(pmf.size), rtol=0.02)
    assert_allclose(drawn.std(), np.sqrt(pmf @ np.arange(pmf.size) ** 2 - (pmf @ np.arange(pmf.size)) ** 2), rtol=0.03)


def test_bookings_ahead_are_what_the_stated_shares_say(shop):
    _, pipeline = shop
    share, _ = pipeline.known_share(DAYS)
    rng = np.random.default_rng(5)
    delay = pipeline.delays["thorough", "planned_days"]
    for known, chance in zip(pipeline.known.itertuples(index=False), share, strict=True):
        waits = days_drawn(delay, 200_000, rng)
        still = waits > known.elapsed_days
        assert_allclose((waits[still] <= known.elapsed_days + DAYS).mean(), chance, atol=0.006)
