"""Parts at landed cost: every delivery with its share of freight, every use costed first in, first out."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.cost_layers import NEVER_CAME, fifo
from pipeline.kernels.landed_cost import landed_cents, share_by_value
from pipeline.store import read

# What salvage cost was the work of taking it out, and that stands in the hours: its book cost is nothing.
FREE_ARRIVALS = ("harvested",)


@dataclass(frozen=True)
class PartsLedger:
    """What came in, what went out, and what each cost.

    Attributes
    ----------
    arrivals : pandas.DataFrame
        One row per layer of stock: ``part``, ``came_on``, ``kind`` (``received``, a kind of stock move, or
        ``put_back``), ``order_no``, ``pcs``, ``cost_amount``, ``left_pcs``, ``left_amount``, ``is_known``.
    issues : pandas.DataFrame
        One row per use or outward move: ``job`` (missing for a move), ``part``, ``is_callback``, ``kind``,
        ``used_on``, ``pcs``, ``cost_amount`` as it stands today, ``booked_amount`` as it was known on the day,
        ``provisional_pcs`` used before a delivery covered them, ``unsettled_pcs`` still without one, ``is_known``
        (False where some piece's cost was never known; the amounts then leave it out).
    """

    arrivals: pd.DataFrame
    issues: pd.DataFrame


def parts_ledger(connection):
    """Cost every use of every part, first in, first out, at landed cost.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    PartsLedger
        In pieces and to the cent, what came in equals what went out and what is left.

    Raises
    ------
    SparebenchError
        If the ledger does not balance (a fault of the program, never of the records).
    """
    parts = read.query(
        connection,
        """
        select parts.part, cast(prices.unit_price as double) * 100 as cents
        from tidy_parts as parts left join part_prices as prices on parts.part = prices.part
        order by parts.part""",
    )
    number = pd.Series(np.arange(len(parts)), index=parts["part"])
    fallback = parts["cents"].to_numpy(dtype=float)
    issues = read.frame(connection, "stock_issues")
    arrivals = _arrivals(connection, issues, number, fallback)
    issues = issues[(issues["pcs"] > 0) & issues["is_from_shelf"]].reset_index(drop=True)
    costs = fifo(
        number[arrivals["part"]],
        _day(arrivals["came_on"]),
        arrivals["pcs"],
        arrivals["cents"],
        number[issues["part"]],
        _day(issues["used_on"]),
        issues["pcs"],
        fallback,
    )
    left = arrivals.assign(
        cost_amount=arrivals["cents"] / 100,
        left_pcs=costs.layer_left_pcs,
        left_amount=costs.layer_left_cents / 100,
    )
    return PartsLedger(
        left.drop(columns="cents"), _costed(issues, costs, arrivals["is_known"].to_numpy(dtype=bool))
    )


def unit_costs_on(ledger, parts, days):
    """Unit cost of each part as the newest arrival by a day had it.

    Parameters
    ----------
    ledger : PartsLedger
        Free (harvested) and unknown arrivals are passed over.
    parts : array_like of str, shape (n,)
        Parts.
    days : array_like of date, shape (n,)
        Days.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Amount per piece; not a number where nothing had come by then.
    """
    came = ledger.arrivals[ledger.arrivals["is_known"] & ~ledger.arrivals["kind"].isin(FREE_ARRIVALS)]
    codes = pd.Index(np.unique(np.concatenate([came["part"], np.asarray(parts)]).astype(object)))
    came_key = np.stack([codes.get_indexer(came["part"]), _day(came["came_on"])])
    order = np.lexsort(came_key[::-1])
    part, day = codes.get_indexer(parts), _day(pd.Series(days))
    span = 1 + int(max(came_key[1].max(initial=0), day.max(initial=0)))
    keys = (came_key[0] * span + came_key[1])[order]
    place = np.searchsorted(keys, part * span + day, side="right") - 1
    unit = np.append((came["cost_amount"] / came["pcs"]).to_numpy(dtype=float)[order], np.nan)
    is_in = (place >= 0) & (np.append(came_key[0][order], -1)[place] == part)
    return np.where(is_in, unit[place], np.nan)


def _costed(issues, costs, is_layer_known):
    """Sum the stretches of each issue."""
    is_known = costs.is_known.copy()
    is_covered = costs.layer != NEVER_CAME
    is_known[is_covered] &= is_layer_known[costs.layer[is_covered]]

    def total(values):
        return np.bincount(costs.issue, values, len(issues))

    return issues.assign(
        cost_amount=total(costs.cents) / 100,
        booked_amount=total(costs.booked_cents) / 100,
        provisional_pcs=total(costs.pcs * costs.is_provisional).astype(int),
        unsettled_pcs=total(costs.pcs * ~is_covered).astype(int),
        is_known=total(~is_known) == 0,
    ).drop(columns="is_from_shelf")


def _arrivals(connection, issues, number, fallback):
    """Deliveries at landed cost, inward moves, and pieces that jobs brought back beyond what they took."""
    arrivals = _with_landed_cents(
        read.frame(connection, "stock_arrivals"), read.frame(connection, "landed_lines")
    )
    back = issues[(issues["pcs"] < 0) & issues["is_from_shelf"]]
    put_back = pd.DataFrame(
        {"part": back["part"], "came_on": back["used_on"], "pcs": -back["pcs"], "kind": "put_back"}
    )
    arrivals = pd.concat([arrivals, put_back], ignore_index=True)
    is_free = arrivals["kind"].isin(FREE_ARRIVALS).to_numpy()
    unit_cents = arrivals["unit_cost"].to_numpy(dtype=float) * 100
    guess = np.where(is_free, 0.0, fallback[number[arrivals["part"]]])
    unit_cents = np.where(np.isnan(unit_cents), guess, unit_cents)
    cents = arrivals["landed_cents"].to_numpy(dtype=float)
    cents = np.where(np.isnan(cents), np.floor(arrivals["pcs"] * unit_cents + 0.5), cents)
    return arrivals.assign(
        pcs=arrivals["pcs"].astype(int),
        cents=np.nan_to_num(cents).astype(np.int64),
        is_known=~np.isnan(cents),
    ).drop(columns=["unit_cost", "landed_cents"])


def _with_landed_cents(arrivals, lines):
    """Share each order's extra amount over its lines, and each line's landed cost over its deliveries."""
    if lines.empty:
        return arrivals.assign(landed_cents=np.nan)
    orders, first = np.unique(lines["order_no"], return_index=True)
    order = np.searchsorted(orders, lines["order_no"])
    line_cents = landed_cents(lines["goods_cents"], lines["order_extra_cents"].to_numpy()[first], order)
    lines = lines.assign(line=np.arange(len(lines)), line_cents=np.maximum(line_cents, 0))
    placed = arrivals.merge(
        lines[["order_no", "part", "line", "goods_pcs"]], on=["order_no", "part"], how="left"
    )
    is_in = placed["line"].notna().to_numpy()
    line, pcs = placed.loc[is_in, "line"].to_numpy(dtype=int), placed.loc[is_in, "pcs"].to_numpy(dtype=int)
    # pieces still to come keep their part of an open line's cost
    waiting = np.maximum(lines["goods_pcs"].to_numpy() - np.bincount(line, pcs, len(lines)), 0).astype(int)
    cents = np.full(len(arrivals), np.nan)
    shares = share_by_value(
        lines["line_cents"], np.concatenate([pcs, waiting]), np.concatenate([line, lines["line"]])
    )
    cents[is_in] = shares[: line.size]
    return arrivals.assign(landed_cents=cents)


def _day(dates):
    """Days since 1970; a use without any day counts as of the first of days, before all cover."""
    return pd.to_datetime(dates).fillna(pd.Timestamp(0)).to_numpy().astype("datetime64[D]").astype(np.int64)
