"""Why each part is ordered, or is not: one sentence or two per line, in the owner's words."""

import numpy as np
import pandas as pd

RECKONED = {
    "class": "the middle of its class",
    "shop": "the middle of all known prices, as none of its class is known",
    "none": "1 a piece, as no price is known at all",
}


def explain(lines, missing_files):
    """Say why each line of the plan is as it is.

    Parameters
    ----------
    lines : pandas.DataFrame
        Lines of the plan.
    missing_files : set of str
        Optional files that are absent, such as ``offers.csv``.

    Returns
    -------
    list of str
        In the order of ``lines``: who needs it, what is there, the rule, the supply, the price, every doubt.
    """
    return [". ".join(words[:1].upper() + words[1:] for words in _sentences(line, missing_files)) + "."
            for line in lines.itertuples(index=False)]


def _sentences(line, missing_files):
    if line.is_second:
        yield from filter(None, ["second line for the same need", line.note, _price(line, missing_files)])
        return
    yield ", ".join([*_needs(line), *_stock(line, missing_files)])
    yield _rule(line)
    yield from filter(None, [line.note, _supply(line), _price(line, missing_files), _no_price(line),
                             _doubt(line, missing_files)])


def _needs(line):
    if line.known_pcs:
        yield f"{counted(line.known_jobs, 'booked job')} need{'s' if line.known_jobs == 1 else ''} {line.known_pcs:.0f}"
    more = line.committed_pcs - line.known_pcs
    if more > 0:
        yield f"{more:.0f} {'more ' if line.known_pcs else ''}kept for booked work"


def _stock(line, missing_files):
    if np.isnan(line.free_pcs):
        yield "how many are on the shelf is unknown"
    else:
        yield f"{line.free_pcs:.0f} on the shelf"
    if "orders.csv" not in missing_files:
        yield f"{line.on_order_pcs:.0f} on order"


def _rule(line):
    if line.keep == "never":
        return "kept by the owner's word at none: bought for the job only"
    said = " by the owner's word" if line.keep == "always" else ""
    if line.order_up_to_pcs <= 0:
        return "not worth stocking: bought when a job asks"
    if not np.isnan(line.horizon_days):
        is_patient = line.order_up_to_pcs - line.reorder_point_pcs > 1
        when = f", bought at {line.reorder_point_pcs:.0f} or fewer" if is_patient else ""
        return f"aim at {line.order_up_to_pcs:.0f} free{said}, enough for about {_long(line)} to come{when}"
    lots = f", in lots of {line.lot_pcs:.0f}" if line.lot_pcs > 1 else ""
    if line.reorder_point_pcs < 0:
        return f"ordered when booked work is short{lots}, at most {line.order_up_to_pcs:.0f} beyond it{said}"
    return f"reorder point {line.reorder_point_pcs:.0f}{lots}, at most {line.order_up_to_pcs:.0f} free{said}"


def _long(line):
    if line.horizon_days > 365:
        return f"{line.horizon_days / 365:.0f} years"
    seen = "" if np.isnan(line.longest_gap_days) else " (its longest gap between orders)"
    return f"{line.horizon_days / 30.4:.0f} months{seen}"


def _supply(line):
    room = line.order_up_to_pcs - line.position_pcs
    if line.is_made_in_runs:
        if room > 0:
            return f"made in runs, next run unknown: when one is seen, buy {room:.0f}"
        return "made in runs" if np.isnan(room) else "made in runs; enough until the next"
    if line.supply == "ended" and not line.vendor:
        return "no longer made and nobody offers it: look for salvage or a substitute"
    return ""


def _price(line, missing_files):
    if line.order_pcs > 0 and pd.notna(line.packs):
        pack = f", {counted(line.packs, 'pack')} of {line.pack_pcs:.0f}" if line.pack_pcs > 1 else ""
        if line.is_last_paid:
            offer = "offer with a price" if isinstance(line.no_price_from, str) else "offer on record"
            return f"no {offer}: priced as last paid to {line.vendor}{pack}"
        if line.vendor == line.cheapest_vendor:
            return f"cheapest landed from {line.vendor}: {line.landed_price:.2f} a piece{pack}"
        told = f"from {line.vendor}: {line.landed_price:.2f} a piece landed{pack}"
        alone = isinstance(line.cheapest_vendor, str)
        return f"{told}; with today's other orders cheaper than {line.cheapest_vendor}" if alone else told
    if line.vendor or line.is_made_in_runs or line.supply == "ended":
        return ""
    if pd.isna(line.known_price):
        is_absent = "offers.csv" in missing_files
        alone = "" if is_absent or isinstance(line.no_price_from, str) else ", and nobody offers it today"
        unlock = "; offers.csv would price it" if is_absent else ""
        return f"no price known{alone}: the rule reckons with {RECKONED[line.price_from]}{unlock}"
    unlock = "; offers.csv would name a vendor" if "offers.csv" in missing_files else ""
    return f"nobody offers it today; priced as {line.price_source}{unlock}"


def _no_price(line):
    """An offer at 0 is left out; said wherever it might have been bought."""
    if line.order_pcs == 0 or not isinstance(line.no_price_from, str):
        return ""
    return f"an offer at 0 is no price and left out: ask {line.no_price_from}"


def _doubt(line, missing_files):
    if pd.isna(line.doubt):
        return ""
    if np.isnan(line.free_pcs):
        file = "; counts.csv would tell" if "counts.csv" in missing_files else ""
        return f"count it first: {line.doubt}{file}"
    if line.on_hand_pcs < 0:
        return f"the records say {line.on_hand_pcs:.0f}, taken as 0: {line.doubt}"
    return f"doubt: {line.doubt}"


def counted(number, thing):
    """Number and thing in words, with an s where there is not one.

    Parameters
    ----------
    number : float
        How many.
    thing : str
        Singular.

    Returns
    -------
    str

    Examples
    --------
    >>> counted(1, "booked job"), counted(3, "pack")
    ('1 booked job', '3 packs')
    """
    return f"{number:.0f} {thing}" + ("" if number == 1 else "s")
