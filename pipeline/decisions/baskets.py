"""One basket per vendor: freight, the threshold above which it is free, the minimum, and what to bring forward."""

import numpy as np
import pandas as pd

from pipeline.decisions import offer_book

COLUMNS = ["vendor", "lines", "goods_amount", "freight_amount", "total_amount", "brought_forward_amount"]
FARTHEST_WEEKS = 52.0  # nothing is brought forward that falls due later than this


def fill(lines, terms, book):
    """Bring parts forward where a vendor's minimum asks for it or free freight pays for it.

    Parameters
    ----------
    lines : pandas.DataFrame
        Lines of the plan, the due ones with vendor, packs and line_amount.
    terms : pandas.DataFrame
        View ``vendor_terms``.
    book : pipeline.decisions.offer_book.OfferBook
        Today's offers.

    Returns
    -------
    lines : pandas.DataFrame
        The same, with parts brought forward (``is_forward``) and packs added to reach a minimum; ``note`` says so.
    baskets : pandas.DataFrame
        From :func:`table`.

    Notes
    -----
    Next due first, one after the other; freight is saved only if holding the parts brought forward until they would
    have been due costs less. A fuller method weighs all vendors, breaks and thresholds in one mixed-integer program.
    """
    lines = lines.assign(note="")
    for vendor in terms.itertuples(index=False):
        goods = _goods(lines, vendor.vendor)
        if goods <= 0:
            continue
        waiting = _next_due(lines, book, vendor.vendor)
        if goods < vendor.minimum_order:
            reason = f"brought forward: {vendor.vendor} takes no order below {vendor.minimum_order:g}"
            lines = _bring(lines, _until(waiting, vendor.minimum_order - goods), reason)
            lines = _pad(lines, book, vendor)
            goods, waiting = _goods(lines, vendor.vendor), _next_due(lines, book, vendor.vendor)
        if vendor.freight_flat > 0 and goods < vendor.freight_free_over:
            chosen = _until(waiting, vendor.freight_free_over - goods)
            cost, reached = chosen["hold_amount"].sum(), goods + chosen["line_amount"].sum()
            if reached >= vendor.freight_free_over and cost < vendor.freight_flat:
                reason = (f"brought forward: makes freight from {vendor.vendor} free, saves {vendor.freight_flat:.2f} "
                          f"for {cost:.2f} of holding")
                lines = _bring(lines, chosen, reason)
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
    freight = flat.where(~(baskets["goods_amount"] >= of_vendor["freight_free_over"]), 0.0)
    total = baskets["goods_amount"] + freight
    return baskets.assign(freight_amount=freight, total_amount=total)[COLUMNS]


def _goods(lines, vendor):
    return float(lines.loc[(lines["vendor"] == vendor) & (lines["order_pcs"] > 0), "line_amount"].sum())


def _next_due(lines, book, vendor):
    """Parts of a vendor that are not due yet but have room, soonest due first, with what holding them early costs."""
    room = lines["order_up_to_pcs"] - lines["position_pcs"]
    rows = lines[(lines["order_pcs"] == 0) & (lines["vendor"] == vendor) & (room > 0) & (lines["week_use_pcs"] > 0)
                 & ~lines["is_made_in_runs"] & (lines["supply"] == "steady")]
    weeks = (rows["position_pcs"] - rows["reorder_point_pcs"]) / rows["week_use_pcs"]
    rows = rows.assign(weeks=weeks, room=room).query("weeks <= @FARTHEST_WEEKS").sort_values(["weeks", "part"])
    by_part = rows.set_index("part")
    bought = offer_book.cheapest(offer_book.of_vendor(book, vendor), by_part["room"], by_part["year_use_pcs"])
    bought = bought.set_axis(rows.index).assign(weeks=rows["weeks"])
    hold = rows["holding_per_week"] * rows["weeks"] * bought["order_pcs"]
    return bought.assign(hold_amount=hold).dropna(subset=["vendor"])


def _until(waiting, amount):
    """The first rows that together reach an amount; all of them where they do not."""
    reached = waiting["line_amount"].cumsum().to_numpy()
    return waiting.iloc[: int(np.searchsorted(reached, amount - 1e-9)) + 1]


def _bring(lines, chosen, reason):
    lines = lines.copy()
    lines.loc[chosen.index, list(offer_book.CHOICE)] = chosen[list(offer_book.CHOICE)]
    lines.loc[chosen.index, "is_forward"] = True
    lines.loc[chosen.index, "note"] = [f"{reason}; due in about {max(weeks, 1):.0f} weeks" for weeks in chosen["weeks"]]
    return lines


def _pad(lines, book, vendor):
    """Add packs of the part that is used up soonest until the vendor's minimum is reached."""
    theirs = lines[(lines["vendor"] == vendor.vendor) & (lines["order_pcs"] > 0)]
    if _goods(lines, vendor.vendor) >= vendor.minimum_order:
        return lines
    row = (theirs["order_pcs"] / theirs["week_use_pcs"].clip(lower=1e-9)).idxmin()
    only, part = offer_book.of_vendor(book, vendor.vendor), lines.at[row, "part"]
    goods, wanted = _goods(lines, vendor.vendor), pd.Series([lines.at[row, "order_pcs"]], index=[part])
    lines = lines.copy()
    while goods < vendor.minimum_order:
        wanted += lines.at[row, "pack_pcs"]
        bought = offer_book.cheapest(only, wanted, wanted)
        lines.loc[[row], list(offer_book.CHOICE)] = bought.set_axis([row])
        goods = _goods(lines, vendor.vendor)
    lines.loc[row, "note"] = f"raised: {vendor.vendor} takes no order below {vendor.minimum_order:g}"
    return lines
