"""A seeded world's own shop, to replay rules in: its true bookings, waits, needs and lead times, none fitted."""

import numpy as np

from pipeline.decisions import shelf_replay, shelf_rules
from pipeline.demo import catalogue, floor, jobs, records, use, vendors
from pipeline.demo.world import FAMILIES, SCOPES
from pipeline.kernels.shop_replay import ReplayJobs

FORESIGHT_DAYS = 5.0  # standard deviation of the day a job is told to start against the day it does (common practice)


def shop(entry, shelf, terms, n_runs, n_years, seed, review_days=shelf_rules.REVIEW_DAYS):
    """Draw the two years after a world's records, many times over.

    Parameters
    ----------
    entry : tests.support.forecast_worlds.ForecastWorld
    shelf : pipeline.decisions.shelf_rules.Shelf
        Of the store with the world's records: kinds, parts and vendors in its order.
    terms : pandas.DataFrame
        View ``vendor_terms``.
    n_runs, n_years, seed, review_days : int

    Returns
    -------
    pipeline.decisions.shelf_replay.Shop
    """
    rng = np.random.default_rng(seed)
    n_days = shelf_replay.WARM_DAYS + n_years * shelf_replay.YEAR_DAYS
    waits = _waits(entry)
    rows = [row for run in range(n_runs) for row in _run(entry, shelf, run, n_days, waits, rng)]
    drawn = ReplayJobs(*(np.array(column) for column in zip(*rows, strict=True)))
    n_reviews = -(-n_days // review_days)
    true = {vendor.vendor: vendor for vendor in vendors.VENDORS.values()}
    lead = np.array([[[vendors.lead_days(rng, true[name]) if name in true else 14 for _ in range(n_reviews)]
                      for name in shelf.vendors] for _ in range(n_runs)])
    return shelf_replay.shop(drawn, shelf_replay.supply(shelf, terms, lead), n_days)


def _waits(entry):
    """Days from booking to start and from start to teardown that the world's own bench showed, by scope."""
    asked = jobs.arrivals(entry.seed, entry.world)
    bench = floor.run(entry.seed, entry.world, asked, records.WATCH_DAYS)
    done = [job for job in bench.jobs if job.teardown is not None]
    return {scope: np.array([(job.started - job.answered, job.teardown - job.started) for job in done
                             if job.scope == scope]) for scope in SCOPES}


def _run(entry, shelf, run, n_days, waits, rng):
    """Jobs of one run: run, kind, known, planned and teardown day, needs."""
    world, booked = entry.world, entry.world.bookings
    kinds = {kind: place for place, kind in enumerate(shelf.kinds.kinds)}
    longest = max(int(days[:, 0].max()) for days in waits.values())
    place = _places(shelf)
    for day in range(-longest, n_days):
        rate = jobs.booking_rate(world, world.n_days + day)
        for _ in range(int(rng.poisson(rate / booked.burst_jobs))):
            for _ in range(int(rng.geometric(1 / booked.burst_jobs))):
                family = FAMILIES[int(rng.choice(5, p=booked.family_shares))]
                scope = SCOPES[int(rng.choice(3, p=booked.scope_shares[FAMILIES.index(family)]))]
                wait, lag = waits[scope][int(rng.integers(len(waits[scope])))]
                start = day + int(wait)
                told = start + int(np.rint(rng.normal(0, FORESIGHT_DAYS)))
                known = day if world.with_bookings else start  # a job nobody booked is written down when it starts
                yield (run, kinds[family, scope], known, told, start + int(lag),
                       _needs(entry, shelf, place, family, scope, rng))


def _needs(entry, shelf, place, family, scope, rng):
    fit = use.fitted(entry.seed, entry.world, family)
    work = entry.world.work
    taken, _ = use.draw_needs(rng, fit, scope, use.draw_roughness(rng, work), work)
    need = np.zeros(len(shelf.kinds.parts), dtype=np.int64)
    here = place[fit.part]
    np.add.at(need, here[here >= 0], taken[here >= 0])
    return np.where(shelf.is_ahead, need, 0)


def _places(shelf):
    """Place on the shelf of each part of the catalogue."""
    place = {part: at for at, part in enumerate(shelf.kinds.parts)}
    return np.array([place.get(part.part, -1) for part in catalogue.parts()])
