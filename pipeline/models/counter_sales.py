"""Pieces sold over the counter in the days ahead, part by part: no job asks for them, so the calendar must tell."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import calendar_predictive, calendar_served, calendar_table, discrete
from pipeline.models.demand import LEVELS
from pipeline.models.job_pipeline import check_window
from pipeline.store import read

MONTH_DAYS = 365 / 12
FEW_SALES = 5  # sales of a part below which no figure of it is shown
FEW_TO_CHOOSE = 30  # sales of all parts below which the past cannot tell methods apart: the plain mean is served
COLUMNS = ["part", "expected_pcs", *LEVELS, "months", "sales", "sold_pcs", "note"]


@dataclass(frozen=True)
class CounterSales:
    """Counter sales in a window from the day after today.

    Attributes
    ----------
    days : float
        Length of the window.
    months : int
        Whole months of records behind today, each as long as the window divided by its number of months.
    method : str
        Calendar method that is served (a key of ``calendar_predictive.SERVED_FROM``), "" where none can be.
    by_part : pandas.DataFrame
        One row per part ever sold by today: part, expected_pcs, q05_pcs ... q95_pcs (nan where there is too little
        to say), months, sales and sold_pcs in these months, note ("" or why nothing is said).
    together : pandas.DataFrame
        One row of the same columns without part: all parts as one series, which tells more than any of them.
    part_pmfs : numpy.ndarray, shape (n_parts, n_values)
        Probability of 0, 1, 2 ... pieces in the rows of ``by_part``; nan in the rows where nothing is said.
    """

    days: float
    months: int
    method: str
    by_part: pd.DataFrame
    together: pd.DataFrame
    part_pmfs: np.ndarray


def predict(connection, today, days):
    """Predict the pieces sold over the counter in the next days.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    today : datetime.date
        What was sold later is not looked at.
    days : float
        Length of the window from the day after, more than 0.

    Returns
    -------
    CounterSales
        With no rows where nothing was ever sold.

    Raises
    ------
    InvalidParameter
        If the window is not valid.

    Notes
    -----
    Records are taken to be whole from the first stock move of any kind on, and every part ever sold to have been for
    sale since then: a month without a sale is a month in which none was sold. Months are counted back from today;
    days before the oldest whole one are left out. One method for all parts, chosen on their own past with each part
    weighed by its mean sales, so that lamps by the dozen do not decide for all. A part is told about from
    ``FEW_SALES`` sales on, with as many months of records as the window has and at least ``LEAST_PERIODS``.
    """
    check_window(days, "all")
    sold = read.query(connection, "from counter_sales where sold_on <= ? order by part, sold_on", [today])
    if sold.empty:
        return CounterSales(days, 0, "", pd.DataFrame(columns=COLUMNS), pd.DataFrame(columns=COLUMNS[1:]),
                            np.zeros((0, 1)))
    n_ahead = max(round(days / MONTH_DAYS), 1)
    # Multiplied before divided: 730 days are 24 months of 365/12 days to the day.
    ago, watched = (_days_ago(today, sold[name]) for name in ("sold_on", "watched_from_on"))
    months = int((watched.max() + 1) * n_ahead // days)
    parts, pieces, sales = _by_month(sold, (ago * n_ahead // days).astype(int), months)
    method = _method(pieces, sales, n_ahead)
    by_part, part_pmfs = _told(pieces, sales, method, n_ahead)
    together, _ = _told(pieces.sum(axis=1, keepdims=True), sales.sum(axis=1, keepdims=True), method, n_ahead)
    by_part.insert(0, "part", parts)
    return CounterSales(days, months, method, by_part, together, part_pmfs)


def _days_ago(today, dates):
    return (pd.Timestamp(today) - pd.to_datetime(dates)).dt.days.to_numpy()


def _by_month(sold, months_ago, months):
    """Parts, and pieces and sales of each in the whole months up to today, oldest first, shape (months, n_parts)."""
    parts, inside = sold["part"].astype("category").cat, months_ago < months
    place = months - 1 - months_ago[inside], parts.codes.to_numpy()[inside]
    pieces, sales = (
        calendar_table.dense(*place, sold.loc[inside, name].to_numpy(dtype=float), months, len(parts.categories))
        for name in ("sold_pcs", "sales"))
    return parts.categories.to_list(), pieces, sales


def _method(pieces, sales, n_ahead):
    """Name of the method that is served, "" where the records are too short for any."""
    if len(pieces) < calendar_predictive.LEAST_PERIODS:
        return ""
    if sales.sum() < FEW_TO_CHOOSE:
        return calendar_served.UNTOLD
    return calendar_served.choose(pieces, n_ahead, 1 / np.maximum(pieces.mean(axis=0), 1 / len(pieces))).method


def _told(pieces, sales, method, n_ahead):
    """Frame and distributions, empty of figures where there is too little to say."""
    months, n_sales = len(pieces), sales.sum(axis=0).astype(int)
    wanted_months = max(n_ahead, calendar_predictive.LEAST_PERIODS)
    is_told = (n_sales >= FEW_SALES) & (months >= wanted_months)
    forecast = calendar_predictive.calendar_pmfs(pieces, method, n_ahead) if is_told.any() else None
    frame = pd.DataFrame(np.nan, index=range(n_sales.size), columns=["expected_pcs", *LEVELS])
    pmfs = np.full((n_sales.size, 1 if forecast is None else forecast.pmf.shape[1]), np.nan)
    if is_told.any():
        pmfs[is_told] = forecast.pmf[is_told]
        frame.loc[is_told, "expected_pcs"] = forecast.mean_pcs[is_told]
        frame.loc[is_told, list(LEVELS)] = discrete.quantiles(forecast.pmf[is_told], list(LEVELS.values()))
    note = [_note(one, months, wanted_months) for one in n_sales]
    return frame.assign(months=months, sales=n_sales, sold_pcs=pieces.sum(axis=0).astype(int), note=note), pmfs


def _note(sales, months, wanted_months):
    seen = f"{sales} sale{'' if sales == 1 else 's'} in {months} month{'' if months == 1 else 's'}"
    if months < wanted_months:
        return f"too few to say: {seen}; wanted {wanted_months} months of records"
    return f"too few to say: {seen}; wanted {FEW_SALES}" if sales < FEW_SALES else ""
