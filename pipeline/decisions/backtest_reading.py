"""What a backtest says: skill beside plainer methods, and whether the stated ranges held what came."""

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from pipeline.decisions import backtest

BANDS = (0.5, 0.8, 0.9)
LEAST_ORIGINS = 3  # fewer say nothing of how far a share may be off
LEVEL = 0.9
PLAIN = (backtest.BY_JOBS, backtest.DRAWN_AGAIN)
SKILL_COLUMNS = ["family", "shelf_rule", "n_series", "forecast_money", "calendar_money", "drawn_money",
                 "forecast_scaled", "calendar_scaled", "drawn_scaled", "coverage80_share"]
WITHIN_COLUMNS = ["family", "band_share", "inside_share", "low_share", "high_share", "n_series", "n_origins"]


def best_calendar(scores, months):
    """Name of the calendar method with the least CRPS over the whole shop: chosen with hindsight, so hard to beat.

    Parameters
    ----------
    scores : pandas.DataFrame
        ``Backtest.scores``.
    months : int
        Horizon, 3 or 12.

    Returns
    -------
    str
        By money; by the scaled score where no part has a price.
    """
    totals = backtest.summary(_plain(scores[scores["horizon_months"] == months]), [])
    calendar = totals[~totals["method"].isin(PLAIN)].set_index("method")
    by = "crps_money" if calendar["crps_money"].notna().any() else "crps_scaled"
    return calendar[by].idxmin()


def skill(scores, months, keys):
    """CRPS of the forecast, the best calendar method and whole jobs drawn again, side by side.

    Parameters
    ----------
    scores : pandas.DataFrame
        ``Backtest.scores``.
    months : int
        Horizon, 3 or 12.
    keys : list of str
        Of ``family`` and ``shelf_rule``; empty for the shop as a whole.

    Returns
    -------
    pandas.DataFrame
        The keys, n_series; forecast_money, calendar_money, drawn_money (a window); forecast_scaled, calendar_scaled,
        drawn_scaled; coverage80_share of the forecast.
    """
    here = scores[scores["horizon_months"] == months]
    summed = backtest.summary(_plain(here), keys)
    methods = {"forecast": backtest.BY_JOBS, "calendar": best_calendar(scores, months), "drawn": backtest.DRAWN_AGAIN}
    rows = {name: summed[summed["method"] == method].set_index(keys or ["method"]) for name, method in methods.items()}
    rows = rows if keys else {name: frame.reset_index(drop=True) for name, frame in rows.items()}
    made = {f"{name}_{unit}": frame[f"crps_{unit}"] for unit in ("money", "scaled") for name, frame in rows.items()}
    told = pd.DataFrame(made).assign(n_series=rows["forecast"]["n_series"],
                                     coverage80_share=rows["forecast"]["coverage80_share"])
    told = told.reset_index() if keys else told
    return told[[column for column in SKILL_COLUMNS if column in told]]


def within(scores, months, keys=("family",)):
    """How often what came fell in the middle 50, 80 and 90 % of the forecast, with the interval of that share.

    Parameters
    ----------
    scores : pandas.DataFrame
        ``Backtest.scores``.
    months : int
        Horizon, 3 or 12.
    keys : sequence of str
        Columns to tell apart.

    Returns
    -------
    pandas.DataFrame
        The keys, band_share, inside_share, low_share, high_share (90 %), n_series, n_origins.

    Notes
    -----
    Parts of one origin share its jobs, so the origins are the observations: Student's t over their shares. With fewer
    than three, or windows that overlap (12 months, a quarter apart), no interval is given.
    """
    here = scores[(scores["horizon_months"] == months) & (scores["method"] == backtest.BY_JOBS)]
    rows = [group.assign(band_share=band, is_inside=(group["transform_share"] - 0.5).abs() <= band / 2)
            for band in BANDS for group in [here]]
    told = pd.concat(rows, ignore_index=True)
    by = [*keys, "band_share"]
    shares = told.groupby([*by, "origin_on"])["is_inside"].mean().groupby(by)
    inside = told.groupby(by)["is_inside"].mean()
    half = _half_width(shares.std(), shares.count(), is_apart=months * 365 / 12 <= backtest.STEP_DAYS + 1)
    parts = told.drop_duplicates([*by, "family", "part"]).groupby(by).size()
    return pd.DataFrame({"inside_share": inside, "low_share": (inside - half).clip(lower=0),
                         "high_share": (inside + half).clip(upper=1), "n_series": parts,
                         "n_origins": shares.count()}).reset_index()


def unused_share(scores, months):
    """Share of series and windows in which nothing was used: a forecast of nothing is right there without error.

    Parameters
    ----------
    scores : pandas.DataFrame
        ``Backtest.scores``.
    months : int
        Horizon, 3 or 12.

    Returns
    -------
    float
    """
    here = scores[(scores["horizon_months"] == months) & (scores["method"] == backtest.BY_JOBS)]
    return float((here["used_pcs"] == 0).mean())


def _plain(scores):
    return scores.assign(shelf_rule=scores["shelf_rule"].fillna("")) if "shelf_rule" in scores else scores


def _half_width(spread, n_origins, is_apart):
    enough = (n_origins >= LEAST_ORIGINS) & is_apart
    quantile = stdtrit(np.maximum(n_origins - 1, 1).to_numpy(dtype=float), (1 + LEVEL) / 2)
    return (spread * quantile / np.sqrt(n_origins)).where(enough)
