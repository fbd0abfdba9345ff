"""Today's offers side by side: which vendor is cheapest, landed, for a wanted quantity of every part at once."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from pipeline.kernels.landed_price import landed, pack_price
from pipeline.store import read

USUAL_FREIGHT_SHARE = 0.10  # of goods, where freight is charged and no past order tells; common practice, no source
CHOICE = {"vendor": object, "vendor_part": object, "pack_pcs": float, "packs": float, "order_pcs": float,
          "line_amount": float, "unit_price": float, "landed_price": float}


@dataclass(frozen=True)
class OfferBook:
    """Offers that can be ordered now, one row per vendor, part and pack.

    Attributes
    ----------
    rows : pandas.DataFrame
        part, vendor, vendor_part, pack_pcs, fit_hours, reject_share, freight_share, is_last_paid (no offer: the price
        last paid to that vendor stands in).
    from_packs, pack_prices : numpy.ndarray, shape (n_rows, n_breaks)
        Price breaks, rising; short rows filled with ``inf`` packs.
    in_runs : frozenset of str
        Parts that vendors only list as made in runs: to be bought when a run is seen, not ordered at will.
    labour_cost : float
        Own cost of an hour of fitting, money.
    at_no_price : dict of str to str
        Parts offered at a price of 0, with the vendors that do: no price, so no offer, but worth asking.
    """

    rows: pd.DataFrame
    from_packs: np.ndarray
    pack_prices: np.ndarray
    in_runs: frozenset
    labour_cost: float
    at_no_price: dict = field(default_factory=dict)


def open_book(connection, terms, labour_cost):
    """Read the offers.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    terms : pandas.DataFrame
        View ``vendor_terms``.
    labour_cost : float
        Own cost of an hour, money.

    Returns
    -------
    OfferBook
        Offers at price 0, with rejects only, or not available are no offers. A part in steady supply that nobody
        offers is priced as last paid.
    """
    offers = read.query(connection, """
        select part, vendor, vendor_part, pack_pcs, cast(pack_price as double) as pack_price, from_packs, fit_hours,
            reject_share, available, false as is_last_paid
        from tidy_offers
        where available <> 'no' and pack_price > 0 and reject_share < 1
        union all
        select best.part, best.vendor, null, 1, best.unit_price, 1, 0.0, 0.0, 'yes', true
        from best_offers as best
        inner join tidy_parts as parts on best.part = parts.part
        where best.price_source = 'last paid' and parts.supply = 'steady'
            and best.part not in (select part from tidy_offers where available = 'no')
        order by part, vendor, pack_pcs, from_packs""")
    at_will = offers[offers["available"] == "yes"]
    in_runs = frozenset(offers["part"]) - frozenset(at_will["part"])
    rows, from_packs, prices = _breaks_side_by_side(at_will)
    share = _freight_shares(terms).reindex(rows["vendor"]).to_numpy()
    return OfferBook(rows.assign(freight_share=share), from_packs, prices, in_runs, labour_cost,
                     _at_no_price(connection))


def cheapest(book, wanted_pcs, useful_pcs, wait_amount=None):
    """Vendor, packs and price of the cheapest way to get each part's wanted pieces.

    Parameters
    ----------
    book : OfferBook
        Today's offers.
    wanted_pcs : pandas.Series of int, indexed by part
        Usable pieces wanted, at least 1.
    useful_pcs : pandas.Series of float, indexed by part
        Pieces that will be used in good time; what a large pack brings beyond them counts for nothing.
    wait_amount : pandas.Series, indexed by (part, vendor), optional
        Money that waiting for that vendor costs, added in the comparison only.

    Returns
    -------
    pandas.DataFrame
        Indexed like ``wanted_pcs``: vendor, vendor_part, pack_pcs, packs, order_pcs, line_amount, unit_price (goods
        alone), landed_price (with freight, rejects and fitting). Missing where nobody offers the part.
    """
    chosen = np.flatnonzero(book.rows["part"].isin(wanted_pcs.index))
    rows = book.rows.iloc[chosen].reset_index(drop=True)
    if rows.empty:
        return pd.DataFrame(index=wanted_pcs.index, columns=list(CHOICE)).astype(CHOICE)
    wanted = wanted_pcs.reindex(rows["part"]).to_numpy()
    packs, goods, total, each = landed(
        wanted, rows["pack_pcs"], book.from_packs[chosen], book.pack_prices[chosen], rows["freight_share"],
        rows["reject_share"], rows["fit_hours"], book.labour_cost)
    bought = packs * rows["pack_pcs"].to_numpy()
    useful = np.minimum(bought, np.maximum(wanted, useful_pcs.reindex(rows["part"]).to_numpy()))
    waiting = 0.0 if wait_amount is None else wait_amount.reindex(
        pd.MultiIndex.from_frame(rows[["part", "vendor"]])).fillna(0.0).to_numpy()
    rows = rows.assign(packs=packs, order_pcs=bought, line_amount=goods, unit_price=goods / bought, landed_price=each,
                       compared=(total + waiting) / useful)
    best = rows.sort_values(["part", "compared", "vendor", "pack_pcs"]).drop_duplicates("part").set_index("part")
    return best.reindex(wanted_pcs.index)[list(CHOICE)].astype(CHOICE)


def bought(book, offers, packs):
    """What given packs of some offers bring and cost.

    Parameters
    ----------
    book : OfferBook
        Today's offers.
    offers : array_like of int, shape (n_bought,)
        Their places in the book.
    packs : array_like of int, shape (n_bought,)
        Packs of each, at least 1.

    Returns
    -------
    pandas.DataFrame
        One row per offer bought: part and the columns of :func:`cheapest`.
    """
    rows, packs = book.rows.iloc[offers].reset_index(drop=True), np.asarray(packs)
    price = pack_price(packs, book.from_packs[offers], book.pack_prices[offers])
    order_pcs, usable = packs * rows["pack_pcs"], 1 - rows["reject_share"]
    unit_price = price / rows["pack_pcs"]
    each = unit_price * (1 + rows["freight_share"]) / usable + rows["fit_hours"] * book.labour_cost
    rows = rows.assign(packs=packs, order_pcs=order_pcs, line_amount=packs * price, unit_price=unit_price,
                       landed_price=each)
    return rows[["part", *CHOICE]].astype(CHOICE)


def _at_no_price(connection):
    rows = read.query(connection, """
        select distinct part, vendor from tidy_offers
        where available <> 'no' and pack_price = 0 and reject_share < 1 order by part, vendor""")
    return rows.groupby("part")["vendor"].agg(" and ".join).to_dict()


def _breaks_side_by_side(offers):
    """One row per vendor, part and pack, its price breaks in columns."""
    keys = ["part", "vendor", "pack_pcs"]
    rows = offers.groupby(keys, as_index=False).agg(
        vendor_part=("vendor_part", "first"), fit_hours=("fit_hours", "max"), reject_share=("reject_share", "max"),
        is_last_paid=("is_last_paid", "max"))
    place = offers.groupby(keys).ngroup().to_numpy()
    column = offers.groupby(keys).cumcount().to_numpy()
    shape = len(rows), int(column.max(initial=0)) + 1
    from_packs, prices = np.full(shape, np.inf), np.full(shape, np.nan)
    from_packs[place, column], prices[place, column] = offers["from_packs"], offers["pack_price"]
    return rows, from_packs, prices


def _freight_shares(terms):
    """Freight per money of goods, by vendor: as past orders had it, else the usual share where freight is charged."""
    usual = (terms["freight_flat"].fillna(0) > 0) * USUAL_FREIGHT_SHARE
    return terms["freight_share"].astype(float).fillna(usual).set_axis(terms["vendor"])
