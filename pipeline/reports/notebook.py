"""The one call each notebook makes: what its page shows, from the store it was given.

Importing this module gives charts our look, and lets errors a reader can act on appear as one sentence.
"""

import builtins
from functools import partial

from pipeline.errors import SparebenchError
from pipeline.reports import all_tables, chart_rendering, shop

chart_rendering.enable()

# What a parameter says where no single family, job or vendor is meant; an empty default could not be read back.
NOT_ONE = ("all", "busiest", "none")


def today(store, rows=20):
    """What needs attention today.

    Parameters
    ----------
    store : str
        The DuckDB file.
    rows : int
        Most lines to draw.

    Returns
    -------
    pipeline.reports.topics.today.Today
        Headline, tables and chart.
    """
    from pipeline.reports.topics.today import Today, TodaysWork

    work = TodaysWork(all_tables.decided(store, "pick_list").lines, all_tables.table(store, "count_list"),
                      tuple(all_tables.table(store, "baskets")["vendor"]))
    return Today(shop.of(store), all_tables.decided(store, "attention"), rows, work)


def consumption(store, family="all", window_days=91, rows=25):
    """What each machine family will use.

    Parameters
    ----------
    store : str
        The DuckDB file.
    family : str
        One family, or ``all``.
    window_days : int
        91 or 365.
    rows : int
        Most parts to draw.

    Returns
    -------
    pipeline.reports.topics.consumption.Consumption
        Headline, tables and charts.
    """
    from pipeline.reports.topics.consumption import Consumption

    return Consumption(shop.of(store), partial(all_tables.decided, store), _one(family), window_days, rows)


def shelf(store, vendor="all", rows=30):
    """What to order today, and from whom.

    Parameters
    ----------
    store : str
        The DuckDB file.
    vendor : str
        One vendor, or ``all``.
    rows : int
        Most parts to draw.

    Returns
    -------
    pipeline.reports.topics.shelf.Shelf
        Headline, tables and charts.
    """
    from pipeline.reports.topics.shelf import Shelf

    _method, *notes = all_tables.decided(store, "order_plan").notes
    return Shelf(shop.of(store), partial(all_tables.table, store), _one(vendor), rows, notes)


def scope(store, family="busiest", job="none", quiet_share=0.8, rows=25):
    """What a thorough rebuild costs beside fixing only what is broken, and the scope between them.

    Parameters
    ----------
    store : str
        The DuckDB file.
    family : str
        The family; ``busiest`` is the one with the most jobs.
    job : str
        A job with findings; ``none`` is a typical machine of the family.
    quiet_share : float
        Chance of no call-back inside the warranty asked of the recommended scope, 0 to 1.
    rows : int
        Most lines to draw.

    Returns
    -------
    pipeline.reports.topics.scope.Scope
        Headline, tables, charts and cautions.
    """
    from pipeline.kernels import require
    from pipeline.reports.topics.scope import Scope

    quiet_share = float(require.share("quiet_share", quiet_share))
    made = all_tables.decided(store, "scope")
    return Scope(shop.of(store), partial(all_tables.table, store), made, _one(family), _one(job), rows, quiet_share)


def earnings(store, family="all", rows=20):
    """What each job earned per hour.

    Parameters
    ----------
    store : str
        The DuckDB file.
    family : str
        One family, or ``all``.
    rows : int
        Most variances to draw.

    Returns
    -------
    pipeline.reports.topics.earnings.Earnings
        Headline, tables and charts.
    """
    from pipeline.reports.topics.earnings import Earnings

    return Earnings(shop.of(store), partial(all_tables.table, store), _one(family), rows)


def health(store):
    """Whether these records can be trusted.

    Parameters
    ----------
    store : str
        The DuckDB file.

    Returns
    -------
    pipeline.reports.topics.health.Health
        Headline, tables and charts.
    """
    from pipeline.reports.topics.health import Health

    return Health(shop.of(store))


def record(store):
    """Forms for takings, counts and deliveries.

    Parameters
    ----------
    store : str
        The DuckDB file; the form writes to it.

    Returns
    -------
    pipeline.reports.topics.record.Record
        Headline, forms and what was recorded.
    """
    from pipeline.reports.topics.record import Record

    return Record(shop.of(store))


def _one(chosen):
    return "" if chosen in NOT_ONE else chosen


def _say_in_words(shell, kind, error, _traceback, tb_offset=None):
    shell._showtraceback(kind, error, [str(error)])


def _errors_in_words():
    running = getattr(builtins, "get_ipython", None)
    if running:
        running().set_custom_exc((SparebenchError,), _say_in_words)


_errors_in_words()
