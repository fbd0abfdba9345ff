"""Parts that come in runs or no more: one purchase to the next run, or to the last machine that wants one."""

import numpy as np

from pipeline.kernels import newsvendor

HORIZON_DAYS = {"scarce": 730.0, "ended": 1825.0}  # to the next run where nothing tells; to the last machine
RUN_GAP_DAYS = np.array([91.0, 182.0, 365.0, 730.0])  # a scarce part's own longest gap between orders, rounded up
GIVE_UP_DAYS = 45.0  # a machine that waits for a part nobody makes is helped otherwise by then


def horizons(positions):
    """Days that one purchase of a part not in steady supply must last.

    Parameters
    ----------
    positions : pandas.DataFrame
        From :func:`pipeline.models.stock.positions`.

    Returns
    -------
    pandas.Series
        Days; missing for parts in steady supply. A scarce part that was ordered on three days or more could be had at
        least as often as its longest gap says; another is taken to be made every two years, an ended one never again.
    """
    place = np.searchsorted(RUN_GAP_DAYS, positions["longest_gap_days"].fillna(np.inf)).clip(max=len(RUN_GAP_DAYS) - 1)
    usual = positions["supply"].map(HORIZON_DAYS)
    return usual.mask(positions["supply"] == "scarce", np.minimum(usual, RUN_GAP_DAYS[place]))


def aims(pmf, horizon_days, is_ended, costs, prices):
    """Most pieces worth having of parts that come in runs or no more: one purchase to the horizon.

    Parameters
    ----------
    pmf : numpy.ndarray, shape (n_parts, n_values)
        Pieces taken until the horizon.
    horizon_days : float
        Days to it.
    is_ended : numpy.ndarray of bool, shape (n_parts,)
        True where a piece left over then has lost its use.
    costs : pipeline.decisions.stock_rules.Costs
        Of these parts.
    prices : numpy.ndarray
        Price per piece, money.

    Returns
    -------
    numpy.ndarray of int
        Pieces on hand and on order to aim at. A piece too many costs its holding to the horizon, and its price if the
        part has ended; a piece short costs the bay until the job is helped otherwise.
    """
    over = costs.holding * horizon_days / 7 + np.where(is_ended, prices, 0.0)
    return newsvendor.discrete(pmf, over, costs.waiting * GIVE_UP_DAYS / 7)[0]


def with_aims(rules, wanted_pcs, positions):
    """Replace the levels of parts not in steady supply by their final buy.

    Parameters
    ----------
    rules : pandas.DataFrame
        From :func:`pipeline.decisions.stock_rules.levels`.
    wanted_pcs : pandas.Series of int
        From :func:`aims`: counts every need to the horizon, reserved ones included.
    positions : pandas.DataFrame
        With ``is_at_will``: an order would be taken today, so the part waits for its usual reorder point. Else it is
        bought whenever one is seen and fewer are free than aimed at.

    Returns
    -------
    pandas.DataFrame
        Like ``rules``; ``keep`` has the last word.
    """
    rows = positions["supply"].isin(list(HORIZON_DAYS)) & (positions["keep"] != "never")
    aim = (wanted_pcs - rules["committed_pcs"]).clip(lower=(positions["keep"] == "always").astype(int))
    below = (aim - 1).where(~positions["is_at_will"], np.minimum(aim - 1, rules["reorder_point_pcs"])).clip(lower=-1)
    return rules.assign(
        order_up_to_pcs=rules["order_up_to_pcs"].where(~rows, aim),
        reorder_point_pcs=rules["reorder_point_pcs"].where(~rows, below), horizon_days=horizons(positions).where(rows))
