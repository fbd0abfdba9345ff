"""The general-purpose inventory library of the bench tier, asked one item at a time, and items to ask it about."""

import importlib
import warnings

import numpy as np
import pytest
from scipy.stats import poisson

TAIL = 1e-13  # what a grid of pieces may leave out: far below the equality that is asked for


def module(name):
    """Return a module of the library; skip the test, with a word, where the bench tier is not installed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library's own deprecations are not ours to mend
        pytest.importorskip("stockpyl", reason="the bench tier is not installed")
        return importlib.import_module(f"stockpyl.{name}")


def each(work, *columns):
    """Ask the library about item after item; numbers go in as plain floats, as its own examples give them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return [work(*map(float, item)) for item in zip(*columns, strict=True)]


def spread(rng, low, high, n_items):
    """Numbers between two ends, alike on the scale of logarithms: as many from 1 to 10 as from 10 to 100."""
    return np.exp(rng.uniform(np.log(low), np.log(high), n_items))


def poisson_pmf(mean_pcs):
    """Probability of 0, 1, 2, ... pieces for each mean, on one grid that is long enough for the largest."""
    return poisson.pmf(np.arange(int(poisson.isf(TAIL, np.max(mean_pcs))) + 2), np.asarray(mean_pcs)[:, None])


def shop_items(rng, n_items):
    """Costs and use of a shop's parts, by the year: demand, lead_years, holding, waiting, ordering, one row per item.

    From a few a year to a hundred or more, from small lamps to boards, a week to two months on the way; a fifth of
    the price a year for holding, one to ten a day for a machine that waits.
    """
    return {
        "demand_pcs": spread(rng, 0.5, 120, n_items),
        "lead_years": rng.uniform(7, 60, n_items) / 365,
        "holding": 0.2 * spread(rng, 0.4, 150, n_items),
        "waiting": 365 * spread(rng, 1, 10, n_items),
        "ordering": rng.uniform(5, 25, n_items),
    }


def weekly_items(rng, n_items):
    """Costs and use by the period of review: demand, holding, waiting, ordering, one row per item."""
    holding = spread(rng, 0.05, 1, n_items)
    return {
        "demand_pcs": spread(rng, 0.2, 12, n_items),
        "holding": holding,
        "waiting": holding * spread(rng, 4, 60, n_items),
        "ordering": spread(rng, 1, 25, n_items),
    }
