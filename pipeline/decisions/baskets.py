"""Today's orders: which vendor brings what, weighed together, and what is brought forward; one basket per vendor."""

import numpy as np
import pandas as pd

from pipeline.decisions import basket_words, offer_book
from pipeline.kernels import basket_program
from pipeline.kernels.basket_choices import Offers, Wants
from pipeline.kernels.basket_pruning import Vendors

COLUMNS = ["vendor", "lines", "goods_amount", "freight_amount", "total_amount", "brought_forward_amount"]
FARTHEST_WEEKS = 52.0  # nothing is bought that would fall due later than this
SAME_AMOUNT = 1e-6  # money: amounts that differ by less are the same
WORTH_SAYING_AMOUNT = 0.02  # money: a program solved to the end is within a cent


def fill(lines, terms, book, wait_amount=None):
    """Choose vendor, packs and price of all that is due, at all vendors at once, and what to bring forward with it.

    Parameters
    ----------
    lines : pandas.DataFrame
        Lines of the plan, one per part; ``short_pcs`` above 0 where due.
    terms : pandas.DataFrame
        View ``vendor_terms``.
    book : pipeline.decisions.offer_book.OfferBook
        Today's offers.
    wait_amount : pandas.Series, indexed by (part, vendor), optional
        Money that waiting for that vendor costs where booked jobs are short of the part.

    Returns
    -------
    lines : pandas.DataFrame
        The same with what is ordered; parts brought forward, and those that join (``is_joined``), are marked
        ``is_forward``; a part split over two offers
        has a second line behind all others, marked ``is_second``; ``note`` says what is special. What is due but
        nobody within reach offers keeps its pieces, without packs or amount.
    baskets : pandas.DataFrame
        From :func:`table`.

    Notes
    -----
    One program over all vendors (:func:`pipeline.kernels.basket_program.solve`). A piece bought before its time costs
    its holding until the part would next be ordered; where freight is not written down the mean of past orders is
    reckoned, without any none; ``note`` says so.
    """
    lines = lines.assign(note="", is_second=False, cheapest_vendor=None, packs=np.nan, line_amount=0.0)
    asked = _asked(lines)
    chosen = np.flatnonzero(book.rows["part"].isin(asked["part"])) if asked["is_due"].any() else np.array([], dtype=int)
    if not len(chosen):
        return lines, table(lines, terms)
    of_vendor = _known_terms(terms, book.labour_cost)
    basket = _solved(asked, book, chosen, of_vendor, wait_amount)
    lines = _with_cheapest(lines, asked, book, wait_amount)
    bought = _bought(asked, book, chosen, basket)
    lines = _written(lines, bought)
    notes = basket_words.notes(lines, asked, bought, of_vendor.assign(
        is_reachable=basket.is_reachable, reach_amount=basket.reach_amount), book.rows.iloc[chosen])
    if basket.gap_amount > WORTH_SAYING_AMOUNT:
        notes += np.where(lines["packs"].gt(0), f"; too many ways to weigh them all: today's orders "
                          f"together could be cheaper by up to {basket.gap_amount:.2f}", "")
    lines = lines.assign(note=[words.removeprefix("; ") for words in notes])
    return lines, table(lines, terms)


def table(lines, terms):
    """Table ``baskets``: one row per vendor that is ordered from today.

    Parameters
    ----------
    lines : pandas.DataFrame
        Lines of the plan.
    terms : pandas.DataFrame
        View ``vendor_terms``.

    Returns
    -------
    pandas.DataFrame
        vendor, lines, goods_amount, freight_amount (missing where the vendor's freight is unknown), total_amount,
        brought_forward_amount.
    """
    ordered = lines[(lines["order_pcs"] > 0) & lines["packs"].notna()]
    amount = ordered["line_amount"]
    made = pd.DataFrame({"vendor": ordered["vendor"], "goods_amount": amount,
                         "brought_forward_amount": amount.where(ordered["is_forward"], 0.0)})
    baskets = made.groupby("vendor").agg(
        lines=("goods_amount", "size"), goods_amount=("goods_amount", "sum"),
        brought_forward_amount=("brought_forward_amount", "sum")).reset_index()
    of_vendor = terms.set_index("vendor").reindex(baskets["vendor"]).reset_index()
    flat = of_vendor["freight_flat"].fillna(of_vendor["mean_freight_amount"]).astype(float)
    is_free = baskets["goods_amount"] >= of_vendor["freight_free_over"].astype(float) - SAME_AMOUNT
    freight = flat.where(~is_free, 0.0)
    total = baskets["goods_amount"] + freight
    return baskets.assign(freight_amount=freight, total_amount=total)[COLUMNS]


def _asked(lines):
    """Parts that are due, and those not due with room, what is wanted of them and what holding them early costs."""
    is_due = lines["short_pcs"] > 0
    room = lines["order_up_to_pcs"] - lines["position_pcs"]
    weeks_to_go = lines["position_pcs"] - lines["reorder_point_pcs"]
    may_come = ((lines["order_pcs"] == 0) & (room > 0) & (lines["week_use_pcs"] > 0) & ~lines["is_made_in_runs"]
                & (lines["supply"] == "steady") & (weeks_to_go <= FARTHEST_WEEKS * lines["week_use_pcs"]))
    rows = lines[is_due | may_come].assign(is_due=is_due, room=room)
    wanted = rows["short_pcs"].where(rows["is_due"], rows["room"])
    # once its want is met a part falls due again when the level has run down to the reorder point
    next_pcs = (rows["order_up_to_pcs"] - rows["reorder_point_pcs"]).clip(lower=1.0)
    to_go = next_pcs.where(rows["is_due"], weeks_to_go)
    weeks = (to_go / rows["week_use_pcs"].where(rows["week_use_pcs"] > 0)).clip(0, FARTHEST_WEEKS)
    useful = (FARTHEST_WEEKS * rows["week_use_pcs"]).where(rows["is_due"], rows[["room", "year_use_pcs"]].max(axis=1))
    weeks, hold = weeks.fillna(FARTHEST_WEEKS), rows["holding_per_week"].fillna(0.0)
    # pieces beyond the next order would be bought at later ones, on average half-way to the farthest
    return rows.assign(wanted_pcs=np.ceil(wanted - 1e-9), weeks=weeks, useful_pcs=useful.fillna(0.0).clip(lower=0.0),
                       early_amount=hold * weeks, next_pcs=next_pcs.where(rows["is_due"], np.inf),
                       late_amount=hold * (FARTHEST_WEEKS - weeks) / 2)


def _known_terms(terms, labour_cost):
    """Terms to reckon with, one row per vendor; which freight is not written down."""
    flat = terms["freight_flat"].astype(float)
    past = terms["mean_freight_amount"].astype(float)
    return pd.DataFrame({
        "vendor": terms["vendor"], "minimum": terms["minimum_order"].astype(float).fillna(0.0),
        "freight": flat.fillna(past).fillna(0.0), "free_over": terms["freight_free_over"].astype(float).fillna(np.inf),
        "own": terms["order_hours"].astype(float).fillna(0.0) * labour_cost,
        "is_unwritten": flat.isna(), "past_freight": past}).reset_index(drop=True)


def _solved(asked, book, chosen, of_vendor, wait_amount):
    """The program's answer; its offers are the book's rows at ``chosen``, its parts those asked."""
    rows = book.rows.iloc[chosen]
    waits = np.zeros(len(rows)) if wait_amount is None else wait_amount.reindex(
        pd.MultiIndex.from_frame(rows[["part", "vendor"]])).fillna(0.0).to_numpy()
    part = pd.Index(asked["part"]).get_indexer(rows["part"])
    wants = Wants(asked["wanted_pcs"].to_numpy(dtype=np.int64), asked["useful_pcs"].to_numpy(dtype=float),
                  *(asked[name].to_numpy(dtype=float) for name in ("early_amount", "next_pcs", "late_amount")),
                  asked["is_due"].to_numpy(dtype=bool))
    offers = Offers(
        part, pd.Index(of_vendor["vendor"]).get_indexer(rows["vendor"]), rows["pack_pcs"].to_numpy(dtype=np.int64),
        book.from_packs[chosen], book.pack_prices[chosen], rows["reject_share"].to_numpy(dtype=float),
        rows["fit_hours"].to_numpy(dtype=float) * book.labour_cost, np.where(wants.is_due[part], waits, 0.0))
    return basket_program.solve(wants, offers, Vendors(
        *(of_vendor[name].to_numpy(dtype=float) for name in ("minimum", "freight", "free_over", "own"))))


def _with_cheapest(lines, asked, book, wait_amount):
    """Which vendor would be cheapest for each part that is due, bought alone."""
    due = asked[asked["is_due"]].set_index("part")
    alone = offer_book.cheapest(book, due["wanted_pcs"].astype(np.int64), due["year_use_pcs"], wait_amount)["vendor"]
    return lines.assign(cheapest_vendor=alone.reindex(lines["part"]).to_numpy())


def _bought(asked, book, chosen, basket):
    """One row per offer ordered, the larger of a part first, with the part's place in ``lines``."""
    taken = np.flatnonzero(basket.packs)
    bought = offer_book.bought(book, chosen[taken], basket.packs[taken])
    of_part = asked.reset_index(names="place").set_index("part").reindex(bought["part"])
    packs, least = basket.packs[taken], basket.least_packs[taken]
    bought = bought.assign(early_amount=basket.early_amount[taken], is_raised=packs > least,
                           is_due=of_part["is_due"].to_numpy(dtype=bool), place=of_part["place"].to_numpy(),
                           least_amount=bought["unit_price"] * bought["pack_pcs"] * least)
    bought = bought.sort_values(["place", "line_amount", "vendor", "pack_pcs"], ascending=[True, False, True, True])
    return bought.assign(is_second=bought.duplicated("place")).reset_index(drop=True)


def _written(lines, bought):
    """Lines with what is bought, second lines behind."""
    names = list(offer_book.CHOICE)
    first, second = bought[~bought["is_second"]], bought[bought["is_second"]]
    lines = lines.copy()
    lines.loc[first["place"], names] = first[names].set_axis(first["place"])
    is_early = ~first["is_due"] | lines.loc[first["place"], "is_joined"].to_numpy(dtype=bool)
    lines.loc[first.loc[is_early, "place"], "is_forward"] = True
    more = lines.loc[second["place"]].reset_index(drop=True)
    more[names] = second[names].reset_index(drop=True)
    return pd.concat([lines, more.assign(is_second=True)], ignore_index=True) if len(more) else lines
