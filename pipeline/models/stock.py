"""Stock of every part as the records have it, with its price and every doubt about either."""

import numpy as np
import pandas as pd

from pipeline.store import read

STALE_COUNT_DAYS = 365  # a count older than this is a doubt
FEWEST_ORDERS = 3  # days on which a part was ordered that say how often it can be had
COLUMNS = ["part", "description", "wear_class", "supply", "keep", "shelf", "on_hand_pcs", "on_order_pcs", "counted_on",
           "doubt", "unit_price", "price_source", "longest_gap_days"]


def positions(connection, today):
    """Pieces on the shelf and on order, price and doubt of every part.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    today : datetime.date
        Day that counts are old against.

    Returns
    -------
    pandas.DataFrame
        One row per part, sorted: part, description, wear_class, supply, keep, shelf; on_hand_pcs (missing where
        never counted and nothing ever came; below 0 where more was taken than came), on_order_pcs, counted_on,
        doubt (words, or missing); unit_price and price_source of the view ``best_offers`` (missing: no price known);
        longest_gap_days between its orders, the time since the last one included (missing below three orders).
    """
    frame = read.query(connection, """
        select parts.*, position.on_hand_pcs, position.on_order_pcs, position.counted_on, position.doubt,
            best.unit_price, best.price_source, gaps.order_days, gaps.longest_gap_days, gaps.last_ordered_on
        from tidy_parts as parts
        inner join stock_position as position on parts.part = position.part
        left join best_offers as best on parts.part = best.part
        left join order_gaps as gaps on parts.part = gaps.part
        order by parts.part""")
    frame = frame.astype({"on_hand_pcs": float, "on_order_pcs": float, "unit_price": float})
    age_days = (pd.Timestamp(today) - pd.to_datetime(frame["counted_on"])).dt.days
    is_stale = frame["doubt"].isna() & (age_days > STALE_COUNT_DAYS)
    words = age_days.map(lambda days: f"last counted {days / 30.4375:.0f} months ago", na_action="ignore")
    return frame.assign(doubt=frame["doubt"].where(~is_stale, words), longest_gap_days=_gaps(frame, today))[COLUMNS]


def _gaps(frame, today):
    """Longest stretch without an order of each part, where there were enough to tell."""
    since = (pd.Timestamp(today) - pd.to_datetime(frame["last_ordered_on"])).dt.days
    longest = np.fmax(frame["longest_gap_days"].astype(float), since.astype(float))
    return longest.where(frame["order_days"] >= FEWEST_ORDERS)


def class_prices(positions):
    """Price to reckon with for every part: its own, else the median of its wear class, else of the shop.

    Parameters
    ----------
    positions : pandas.DataFrame
        From :func:`positions`.

    Returns
    -------
    pandas.Series
        Money per piece, for setting levels only; never an amount to pay. 1 where the shop knows no price at all.
    """
    own = positions["unit_price"]
    of_class = own.groupby(positions["wear_class"]).transform("median")
    shop = own.median() if own.notna().any() else 1.0
    return own.fillna(of_class).fillna(shop).astype(float)


def price_origins(positions):
    """Whose price :func:`class_prices` took for every part.

    Parameters
    ----------
    positions : pandas.DataFrame
        From :func:`positions`.

    Returns
    -------
    numpy.ndarray of str
        ``own``, ``class`` (the middle of its wear class), ``shop`` (the middle of all known prices) or ``none``.

    Examples
    --------
    >>> price_origins(pd.DataFrame({"unit_price": [2.0, np.nan, np.nan], "wear_class": ["coil", "coil", "lamp"]}))
    array(['own', 'class', 'shop'], dtype='<U5')
    """
    is_known = positions["unit_price"].notna()
    is_class_known = is_known.groupby(positions["wear_class"]).transform("any")
    return np.select([is_known, is_class_known], ["own", "class"], "shop" if is_known.any() else "none")


def free_pcs(positions):
    """Pieces that can be counted on: none where the records say less than none, missing where they say nothing.

    Parameters
    ----------
    positions : pandas.DataFrame
        From :func:`positions`.

    Returns
    -------
    numpy.ndarray of float
        Pieces on the shelf, at least 0, or nan.
    """
    return np.maximum(positions["on_hand_pcs"].to_numpy(dtype=float), 0.0)
