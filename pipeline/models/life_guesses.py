"""First guesses of lives: the owner's cell where there is one, else the seed table's, and how far each may be out."""

import numpy as np
import pandas as pd

from pipeline.kernels.weibull_posterior import prior_spread
from pipeline.models import seeds
from pipeline.store import read

CLOCKS = ("plays", "months")
WAS = ("new", "kept")
# How steeply a class wears out is known from engineering better than how long it lasts: the guessed shape
# counts as ten failures, the guessed median only as many as the owner (or the seed table) says.
SHAPE_WEIGHT = 10.0
NO_IDEA = 0.5  # of which clock a class ages by, where the seed table does not say
_COLUMNS = ["wear_class", "part_was", "clock", "median", "shape", "weight", "plays_share", "guess_from"]


def guesses(connection):
    """Prior of every wear class of the shop, new and kept, on both clocks.

    The guess for kept pieces is about pieces nobody judged.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    pandas.DataFrame
        ``wear_class``, ``part_was``, ``clock``, ``median`` (plays or months), ``shape``, ``weight`` (failures the
        median is worth), ``plays_share`` (chance that the class ages by plays rather than by months, the same on all
        rows of a class), ``guess_from`` (``owner`` or ``seed``), ``log_median_sd``, ``log_shape_sd``.
    """
    classes = read.query(connection, "select distinct wear_class from tidy_parts order by wear_class")["wear_class"]
    seed = seeds.wear().set_index("wear_class").drop(columns="provenance")
    seed["plays_share"] = seed.get("plays_share", NO_IDEA)
    own = read.frame(connection, "wear").set_index("wear_class").reindex(columns=seed.columns).astype(float)
    rows = []
    for wear_class in sorted(set(classes) | {"other"}):
        guess = seed.loc[wear_class if wear_class in seed.index else "other"]
        given = own.loc[wear_class] if wear_class in own.index else guess * np.nan
        rows += _of_class(wear_class, guess, given)
    table = pd.DataFrame(rows, columns=_COLUMNS)
    log_median_sd, _ = prior_spread(table["shape"], table["weight"])
    _, log_shape_sd = prior_spread(table["shape"], np.full(len(table), SHAPE_WEIGHT))
    return table.assign(log_median_sd=log_median_sd, log_shape_sd=log_shape_sd)


def _of_class(wear_class, guess, given):
    names = ("shape", "weight_jobs", "plays_share")
    shape, weight, share = (given[name] if given[name] > 0 else guess[name] for name in names)
    rows = []
    for was in WAS:
        for clock in CLOCKS:
            is_own = given[f"median_{clock}_{was}"] > 0
            median = (given if is_own else guess)[f"median_{clock}_{was}"]
            rows.append((wear_class, was, clock, median, shape, weight, share, "owner" if is_own else "seed"))
    return rows
