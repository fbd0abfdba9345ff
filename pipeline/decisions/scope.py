"""Fixing only what is broken beside a thorough rebuild: what each costs now and later, for two purses."""

import numpy as np
import pandas as pd

from pipeline.decisions import scope_costs, scope_words
from pipeline.decisions.scope_costs import OWNER_DAYS
from pipeline.decisions.scope_subject import OPTIONS, subjects
from pipeline.kernels import scope as kernel

# Lines rarer than one piece in twenty such jobs are summed up in one line.
RARE_PCS = 0.05
OPTION_COLUMNS = [
    "subject",
    "option",
    "parts_amount",
    "bench_hours",
    "price_amount",
    "callback_share",
    "later_cost_amount",
    "later_cost_low_amount",
    "later_cost_high_amount",
    "shop_cost_amount",
    "shop_cost_low_amount",
    "shop_cost_high_amount",
    "owner_cost_amount",
    "owner_cost_low_amount",
    "owner_cost_high_amount",
]
_WORDS = {"subject", "option", "assembly", "part", "action", "why"}
LINE_COLUMNS = [
    "subject",
    "option",
    "assembly",
    "part",
    "qty_pcs",
    "action",
    "now_amount",
    "failures_avoided",
    "break_even_failures",
    "why",
]


def scope_tables(connection):
    """Reckon the options of a typical machine of every family and of every open job with findings.

    The simpler method: the two ends only (no recommended scope between them), kept pieces of a class as one group,
    expected costs over the belief about lives and use, without the luck of the single machine.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    options, lines : pandas.DataFrame
        The output tables ``scope_options`` and ``scope_lines``. *later* cost is all call-backs over five years at the
        shop's cost; the *shop's* purse holds the work now at its own cost and the call-backs inside the warranty; the
        *owner's* purse holds the price now and repairs from the warranty's end to five years at the shop's prices.
        low and high are the 10 and 90 % figures over the belief about lives and about use. Where no assembly list says
        what stays in the machine, everything later is unknown. Prices are before tax, sublet work and supplies.
    """
    shop = scope_costs.shop(connection)
    options, lines = [], []
    line_hours = {}
    for subject in subjects(connection):
        priced = scope_costs.priced_lines(shop, subject)
        for option in OPTIONS:
            costs = scope_costs.option_costs(shop, subject, priced, option)
            typical = line_hours.setdefault((subject.family, option), costs.line_hours)
            bench_hours = _bench_hours(shop, subject, option, costs.line_hours, typical)
            options.append(_option_row(shop, subject, option, costs, bench_hours))
            lines.append(_option_lines(shop, subject, priced, option, costs.opened))
    if not options:
        return _empty(OPTION_COLUMNS), _empty(LINE_COLUMNS)
    return pd.DataFrame(options, columns=OPTION_COLUMNS), pd.concat(lines, ignore_index=True)


def scope_options(connection):
    """Output table ``scope_options``: see :func:`scope_tables`."""
    return scope_tables(connection)[0]


def scope_lines(connection):
    """Output table ``scope_lines``: see :func:`scope_tables`."""
    return scope_tables(connection)[1]


def _empty(columns):
    """A table without rows, its columns of the kinds they have with rows: numbers and words."""
    return pd.DataFrame({column: pd.Series(dtype=object if column in _WORDS else float) for column in columns})


def _bench_hours(shop, subject, option, line_hours, typical_hours):
    """Mean hours of such jobs, moved by what this machine's own lines add; the lines' alone where none was logged."""
    mean = shop.mean_hours.get((subject.family, option), np.nan)
    return line_hours if np.isnan(mean) else max(mean + line_hours - typical_hours, line_hours)


def _option_row(shop, subject, option, costs, bench_hours):
    settings = shop.settings
    price = costs.parts_amount * (1 + settings.part_markup_share) + bench_hours * settings.labour_rate
    now = costs.parts_amount + bench_hours * shop.hour_cost
    unknown = np.nan if not subject.is_listed else 0.0
    purses = (costs.later, now + costs.shop_later, price + costs.owner_later)
    figures = [
        figure(draws) + unknown
        for draws in purses
        for figure in (np.mean, lambda each: np.quantile(each, 0.1), lambda each: np.quantile(each, 0.9))
    ]
    return [
        subject.subject,
        option,
        costs.parts_amount,
        bench_hours,
        price,
        costs.callback_share + unknown,
        *figures,
    ]


def _option_lines(shop, subject, priced, option, opened):
    pcs = priced[f"{option}_pcs"]
    extra = (pcs - priced["fix_only_pcs"]).clip(lower=0.0) if option != "fix_only" else pcs * 0.0
    years, warranty = (
        scope_costs.failures(shop, subject, days) for days in (OWNER_DAYS, subject.warranty_days)
    )
    unknown = np.where((extra > 0) & subject.is_listed, 0.0, np.nan)
    lines = priced.assign(
        subject=subject.subject,
        option=option,
        qty_pcs=pcs,
        action=_action(priced, option),
        extra_pcs=extra,
        now_amount=pcs * priced["piece_now_amount"],
        is_listed=subject.is_listed,
        failures_avoided=kernel.failures_avoided(extra, years.kept.mean(axis=0), years.new.mean(axis=0))
        + unknown,
        warranty_avoided=kernel.failures_avoided(
            extra, warranty.kept.mean(axis=0), warranty.new.mean(axis=0)
        ),
        break_even_failures=kernel.break_even_failures(
            extra * priced["piece_now_amount"], priced["call_amount"]
        )
        + unknown,
    )
    clock = "plays" if subject.is_clock_plays else "months"
    guess = shop.guesses.reindex(pd.MultiIndex.from_arrays([lines["wear_class"], [clock] * len(lines)]))
    lines = lines.assign(
        guess_share=guess["prior_weight_share"].to_numpy(), guess_from=guess["guess_from"].to_numpy()
    )
    shown = lines[pcs >= RARE_PCS].sort_values(["assembly", "part"])
    shown = shown.assign(why=[scope_words.why(line, option) for line in shown.to_dict("records")])
    rest = [
        _rare_line(lines[(pcs > 0) & (pcs < RARE_PCS)], subject, option),
        _opening_lines(shop, subject, option, lines, opened),
    ]
    return pd.concat([shown[LINE_COLUMNS], *(each for each in rest if len(each))], ignore_index=True)


def _action(priced, option):
    listed = priced[f"{option}_action"]
    return listed.where(listed.isin(["replace", "make"]), "replace")


def _rare_line(lines, subject, option):
    if lines.empty:
        return pd.DataFrame(columns=LINE_COLUMNS)
    row = [
        subject.subject,
        option,
        None,
        None,
        lines["qty_pcs"].sum(),
        "replace",
        lines["now_amount"].sum(),
        np.nan,
        np.nan,
        f"{len(lines)} parts rarer than one piece in twenty such jobs, together",
    ]
    return pd.DataFrame([row], columns=LINE_COLUMNS)


def _opening_lines(shop, subject, option, lines, opened):
    """One line per assembly that must be opened, for the work that all its pieces share."""
    place = lines["assembly"].fillna("")
    by_place = pd.DataFrame(
        {"pcs": lines.groupby(place)["qty_pcs"].sum(), "hours": lines.groupby(place)["open_hours"].max()}
    )
    by_place = by_place.assign(opened=opened)[lambda each: (each["opened"] >= RARE_PCS) & (each["hours"] > 0)]
    rows = [
        [
            subject.subject,
            option,
            row.Index,
            None,
            row.opened,
            "open",
            row.opened * row.hours * shop.hour_cost,
            np.nan,
            np.nan,
            scope_words.why_opened(row.Index, row.opened, row.pcs, option),
        ]
        for row in by_place.itertuples()
    ]
    return pd.DataFrame(rows, columns=LINE_COLUMNS)
