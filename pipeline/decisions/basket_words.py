"""What is special about a line of today's orders, in words: raised, brought forward, split, out of reach, freight."""

import numpy as np


def notes(lines, asked, bought, of_vendor, offers):
    """Say for every line what its vendor's terms did to it.

    Parameters
    ----------
    lines : pandas.DataFrame
        Lines of the plan with what is ordered, second lines behind.
    asked : pandas.DataFrame
        Parts that were due or could come forward: part, weeks until they would fall due.
    bought : pandas.DataFrame
        One row per offer ordered: part, vendor, order_pcs, line_amount, least_amount, early_amount, is_due,
        is_raised, is_second.
    of_vendor : pandas.DataFrame
        One row per vendor: minimum, freight, free_over, is_unwritten, past_freight, is_reachable, reach_amount.
    offers : pandas.DataFrame
        part and vendor of the offers that were weighed.

    Returns
    -------
    numpy.ndarray of object, shape (n_lines,)
        Sentences joined by ``; ``, each led by one; empty where nothing is special.
    """
    terms, asked = of_vendor.set_index("vendor"), asked.set_index("part")
    reasons = _reasons(bought, terms)
    raised = set(zip(*(bought.loc[bought["is_raised"] & bought["is_due"], name]
                       for name in ("part", "vendor", "pack_pcs")), strict=True))
    split = _splits(bought)
    said = []
    for line in lines.itertuples(index=False):
        words = []
        if not line.packs > 0:
            words += _out_of_reach(line, asked, offers, terms)
        elif line.order_pcs > 0:
            if line.is_joined:
                weeks = (line.position_pcs - line.reorder_point_pcs) / max(line.week_use_pcs, 1e-9)
                words.append(f"joins today's order to {line.vendor}, due in about {_weeks(min(weeks, 52))} itself")
            elif line.is_forward:
                words.append(f"brought forward: {reasons[line.vendor]}; due in about "
                             f"{_weeks(asked.at[line.part, 'weeks'])}")
            elif (line.part, line.vendor, line.pack_pcs) in raised:
                words.append(f"raised: {reasons[line.vendor]}")
            words += [*split.get(line.part, []), *_freight(terms.loc[line.vendor], line.vendor)]
        said.append("".join(f"; {word}" for word in words))
    return np.array(said, dtype=object)


def _reasons(bought, terms):
    """Why each vendor's order was filled up."""
    said = {}
    for vendor, rows in bought.groupby("vendor"):
        due_amount = rows.loc[rows["is_due"], "least_amount"].sum()
        least, freight = terms.at[vendor, "minimum"], terms.at[vendor, "freight"]
        early = rows["early_amount"].sum()
        if due_amount < least:
            said[vendor] = f"{vendor} takes no order below {least:g}"
        elif freight > 0 and rows["line_amount"].sum() >= terms.at[vendor, "free_over"] - 1e-6:
            said[vendor] = f"makes freight from {vendor} free, saves {freight:.2f} for {early:.2f} of having it early"
        else:
            said[vendor] = f"costs nothing more with today's order to {vendor}"
    return said


def _splits(bought):
    """Words for parts bought from two offers."""
    twice = bought[bought["part"].isin(bought.loc[bought["is_second"], "part"])]
    return {part: ["split: " + " and ".join(f"{row.order_pcs:.0f} from {row.vendor} by the {_pack(row.pack_pcs)}"
                                           for row in rows.itertuples()) + " cost less than all from one"]
            for part, rows in twice.groupby("part")}


def _weeks(weeks):
    whole = max(round(weeks), 1)
    return f"{whole} week{'' if whole == 1 else 's'}"


def _pack(pack_pcs):
    return "piece" if pack_pcs == 1 else f"pack of {pack_pcs:.0f}"


def _out_of_reach(line, asked, offers, terms):
    """Words for what is due but offered only by vendors whose minimum nothing of use reaches."""
    if not line.short_pcs > 0 or line.part not in asked.index:
        return
    for vendor in sorted(set(offers.loc[offers["part"] == line.part, "vendor"])):
        least, reach = terms.at[vendor, "minimum"], terms.at[vendor, "reach_amount"]
        yield (f"not ordered: {vendor} takes no order below {least:g} and all that is of use from it comes to "
               f"{reach:.2f}; ask {vendor} or wait for more")


def _freight(term, vendor):
    if term["is_unwritten"] and np.isnan(term["past_freight"]):
        yield f"freight of {vendor} is unknown: none is reckoned"
    elif term["is_unwritten"]:
        yield f"freight of {vendor} is not written down: {term['past_freight']:.2f} as past orders had it"
