"""Lead time of each vendor: deliveries, orders still open, and the quote until receipts outweigh it."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels import lead_time
from pipeline.store import read

PSEUDO_RECEIPTS = 3.0  # orders a vendor's own quote counts for
SHORTEST_DAYS = 0.5  # a part fetched the same day still took part of it
OUT_OF_LINE = 1.25  # a mean this many times the quote is said
COLUMNS = ["vendor", "receipts", "open_orders", "mean_days", "q10_days", "q50_days", "q90_days", "note"]


@dataclass(frozen=True)
class LeadTimes:
    """Fitted lead times.

    Attributes
    ----------
    frame : pandas.DataFrame
        One row per vendor: vendor, receipts and open_orders (orders, not lines), mean_days, q10_days, q50_days,
        q90_days, note.
    fitted : pipeline.kernels.lead_time.LeadTime
        The gamma behind each row, in the same order; ``nan`` where nothing can tell.
    arrived_q90_days : numpy.ndarray
        Days by which nine in ten orders were here, judged by quote and arrivals alone: what an order still open is late
        against (it would make itself look punctual if it counted).
    """

    frame: pd.DataFrame
    fitted: lead_time.LeadTime
    arrived_q90_days: np.ndarray

    def period_shares(self, vendors, period_days, n_periods, unknown_days):
        """Share of orders that arrive in each period after the order, for a list of vendors.

        Parameters
        ----------
        vendors : sequence of str or None
            Vendor of each row wanted; one not in the frame, or without a fit, is taken as ``unknown_days``.
        period_days : float
            Length of a period.
        n_periods : int
            Periods to lay out; the last holds all that takes longer.
        unknown_days : float
            Mean assumed where nothing can tell; spread as of a bare quote.

        Returns
        -------
        numpy.ndarray, shape (len(vendors), n_periods)
        """
        row = {vendor: k for k, vendor in enumerate(self.frame["vendor"])}
        mean = np.append(self.fitted.mean_days, unknown_days)
        shape = np.append(self.fitted.shape, lead_time.QUOTE_SHAPE)
        place = np.array([row.get(vendor, len(row)) for vendor in vendors], dtype=int)
        place = np.where(np.isfinite(mean[place]), place, len(row))
        return lead_time.period_shares(lead_time.LeadTime(mean[place], shape[place]), period_days, n_periods)

    def quantile_days(self, vendors, share, unknown_days):
        """Days by which a share of orders has arrived, for a list of vendors.

        Parameters
        ----------
        vendors : sequence of str or None
            Vendor of each row wanted.
        share : float
            Share of orders, 0 to 1.
        unknown_days : float
            Days where nothing can tell.

        Returns
        -------
        numpy.ndarray, shape (len(vendors),)
        """
        days = lead_time.quantile_days(self.fitted, [share])[:, 0] if len(self.frame) else np.zeros(0)
        known = dict(zip(self.frame["vendor"], days, strict=True))
        found = np.array([known.get(vendor, np.nan) for vendor in vendors], dtype=float)
        return np.where(np.isnan(found), unknown_days, found)


def fit(connection, today):
    """Fit every vendor's lead time.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    today : datetime.date
        Open orders are known to have taken at least until this day.

    Returns
    -------
    LeadTimes
        Lines of one order share one weight, as they travel together. A vendor without a quote is drawn towards the
        mean of all the shop's receipts; the note says so.
    """
    lines = _lines(read.frame(connection, "vendor_receipts"), today)
    vendors = read.query(connection, "select vendor, lead_time_days from tidy_vendors order by vendor")
    place = {vendor: k for k, vendor in enumerate(vendors["vendor"])}
    row = lines["vendor"].map(place).to_numpy(dtype=int)
    quoted = vendors["lead_time_days"].to_numpy(dtype=float, na_value=np.nan)
    received = lines.loc[~lines["is_open"]]
    shop_mean = np.average(received["days"], weights=received["weight"]) if len(received) else np.nan
    prior = np.where(np.isnan(quoted), shop_mean, np.maximum(quoted, SHORTEST_DAYS))
    fitted = lead_time.fit(lines["days"], lines["is_open"], row, prior, PSEUDO_RECEIPTS, lines["weight"])
    came = ~lines["is_open"].to_numpy(dtype=bool)
    arrived = lead_time.fit(received["days"], ~came[came], row[came], prior, PSEUDO_RECEIPTS, received["weight"])
    frame = vendors[["vendor"]].assign(
        receipts=_orders(lines, ~lines["is_open"], place), open_orders=_orders(lines, lines["is_open"], place),
        mean_days=fitted.mean_days,
    )
    quantiles = lead_time.quantile_days(fitted, [0.1, 0.5, 0.9]) if len(frame) else np.zeros((0, 3))
    for k, name in enumerate(["q10_days", "q50_days", "q90_days"]):
        frame[name] = quantiles[:, k]
    frame["note"] = [_note(*facts) for facts in zip(frame["receipts"], frame["mean_days"], quoted, strict=True)]
    late = lead_time.quantile_days(arrived, [0.9])[:, 0] if len(frame) else np.zeros(0)
    return LeadTimes(frame[COLUMNS], fitted, late)


def _lines(receipts, today):
    """Days and weight of each delivery and each open line; lines that cannot be (received before ordered) left out."""
    ordered = pd.to_datetime(receipts["ordered_on"])
    so_far = (pd.Timestamp(today) - ordered).dt.days
    days = receipts["days"].astype(float).where(~receipts["is_open"], so_far)
    usable = receipts.assign(days=days.clip(lower=SHORTEST_DAYS).to_numpy())[(days >= 0).to_numpy()]
    per_order = usable.groupby("order_no")["order_no"].transform("size")
    return usable.assign(weight=1.0 / per_order)


def _orders(lines, chosen, place):
    counted = lines[chosen].groupby("vendor")["order_no"].nunique()
    return [int(counted.get(vendor, 0)) for vendor in place]


def _note(receipts, mean_days, quoted_days):
    if np.isnan(mean_days):
        return "neither a quote nor receipts: lead time unknown"
    said = f"{receipts} receipt" + ("" if receipts == 1 else "s")
    if np.isnan(quoted_days):
        return f"no quote: drawn to the mean of all receipts; {said}"
    if receipts < PSEUDO_RECEIPTS:
        return f"quote still decides: {said}"
    if mean_days > OUT_OF_LINE * quoted_days:
        return f"slower than its quote of {quoted_days:g} days; {said}"
    return f"{said} outweigh the quote of {quoted_days:g} days"
