"""The store as it was known at the end of a past day, and what was used afterwards: for judging forecasts.

What was known is copied into memory and the file let go, so that no later row can be reached at all. The rules by
table stand in :mod:`pipeline.store.known_days`. Of jobs (``as_of_jobs.sql``):

- A job is known from the first day that anything dated was written of it. One without any such day (an enquiry that
  never became a booking) is known on no day.
- Its status is told anew: of what is written and what its days by then tell, the one that is less far on. Work began
  on ``started_on``, else with the first taking or hours; before it, and before ``booked_on``, the job was an enquiry.
  A status left empty stays empty and follows the days.
- An ending without a day (declined; delivered, but nobody wrote when) is known once nothing was written of the job,
  and its start was planned, a year ago or longer; a declined one also from the day of its refund. Until then the job
  stands as what it was before. What a call-back took without a day is known after such a year, too.
- Scope, planned start, promised day, quoted prices, and what a call-back turned out to be are taken as written with
  their row: they may have been written, or changed, some days later. Registers and the shop's settings are as they
  are now, save ``today``. The list of loads is empty, columns beyond the contract are blank.
"""

import datetime
import numbers
from pathlib import Path

import duckdb

from pipeline.errors import InvalidParameter, StoreError
from pipeline.store import catalogue, connect, known_days, read

_JOB_STATES = Path(__file__).with_name("as_of_jobs.sql")


def open_read(path, day):
    """Open the store as it was known at the end of a day, its ``today`` that day.

    Parameters
    ----------
    path : str or pathlib.Path
        The DuckDB file. It is not kept open.
    day : datetime.date
        No later than the store's own today.

    Returns
    -------
    duckdb.DuckDBPyConnection
        In memory; use it as a context manager. Every table and view answers as of the day.

    Raises
    ------
    InvalidParameter
        If ``day`` is no date, or one that the records have not reached.
    StoreError
        As :func:`pipeline.store.connect.open_read`.

    Examples
    --------
    >>> with open_read("shop.duckdb", datetime.date(2025, 6, 30)) as connection:  # doctest: +SKIP
    ...     read.settings(connection).today
    datetime.date(2025, 6, 30)
    """
    day = _date(day)
    with connect.open_read(path) as whole:
        _refuse_not_reached("day", day, _today(whole))
    connection = duckdb.connect(config=connect.SETTINGS)
    try:
        connection.execute("set enable_progress_bar = false")
        connect.attach_standing(connection, path)
        _copy(connection, day)
        connection.execute("detach standing")
    except BaseException:
        connection.close()
        raise
    return connection


def refuse_later(connection, day):
    """Refuse a connection through which anything later than a day can be seen.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        A store, opened as of a day or whole.
    day : datetime.date
        The last day that may be known.

    Raises
    ------
    StoreError
        Naming the first table, column and value that lie after the day. Days that lie ahead by nature (planned,
        promised, due) are let through.
    """
    day = _date(day)
    held = [(table, column) for table in catalogue.tables() for column in known_days.TABLES[table].days]
    newest = " union all ".join(f"select '{table}' as holds, '{column}' as named, max({column}) as day from {table}"
                                for table, column in held)
    found = read.rows(connection, f"from ({newest}) where day > ? order by all limit 1", [day])
    if found:
        table, column, value = found[0]
        raise StoreError(f"{table}.{column} holds {value}, wanted nothing later than {day}: a forecast made with it "
                         "would know what came after its day. Open the store by as_of.open_read(path, day).")


def used_afterwards(connection, day, days):
    """Return the pieces that jobs used within (day, day + days], from the whole store.

    A piece given back cancels the last one that its job took for the same purpose. A taking without a day counts on
    the delivery of its job; without that, or for a call-back, on no day (view ``use_days`` shows those).

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        The whole store.
    day : datetime.date
        The window begins the day after.
    days : int
        Length of the window, 1 or more.

    Returns
    -------
    pandas.DataFrame
        family, part, used_pcs (by jobs), callback_pcs (by call-backs): pieces of every source, in the order of
        family and part. A pair that used neither has no row. What nobody wrote down is not in it.

    Raises
    ------
    InvalidParameter
        If the window has no day in it, or ends after the store's today: what was used is not all known yet.
    """
    if not isinstance(days, numbers.Integral) or isinstance(days, bool) or days < 1:
        raise InvalidParameter(f"days is {days!r}; wanted a whole number of days, 1 or more.")
    last_on = _date(day) + datetime.timedelta(days=int(days))
    _refuse_not_reached("the last day of the window", last_on, read.settings(connection).today)
    return read.query(connection, """
        select
            family,
            part,
            cast(coalesce(sum(used_pcs) filter (not is_callback), 0) as bigint) as used_pcs,
            cast(coalesce(sum(used_pcs) filter (is_callback), 0) as bigint) as callback_pcs
        from use_days where used_on > ? and used_on <= ? group by family, part order by family, part""", [day, last_on])


def _date(day):
    # A time is a date to Python, yet compares with none.
    if not isinstance(day, datetime.date) or isinstance(day, datetime.datetime):
        raise InvalidParameter(f"day is {day!r}; wanted a datetime.date.")
    return day


def _refuse_not_reached(what, day, today):
    if day > today:
        raise InvalidParameter(f"{what} is {day}; wanted one no later than {today}, where the records end.")


def _today(whole):
    """Day up to which a store without views is known: its own today where given, else its last date."""
    given = read.rows(whole, "select try_cast(value as date) from shop where key = 'today'")
    return (given and given[0][0]) or read.last_date(whole)


def _copy(connection, day):
    """Copy from ``standing`` what was known by the day."""
    connection.execute(f"create macro the_day() as date '{day.isoformat()}'")
    connection.execute("create macro known_by(day) as coalesce(day <= the_day(), false)")
    connection.execute(f"create table job_days as {_job_days()}")
    connection.execute(f"create table job_states as {_JOB_STATES.read_text(encoding='utf-8')}")
    for name in catalogue.every_table():
        connection.execute(f'create table "{name}" as {_select(name)}')
    connection.execute("delete from shop where key = 'today'")
    connection.execute("insert into shop (key, value) values ('today', ?)", [day.isoformat()])
    for made in ("table job_states", "table job_days", "macro known_by", "macro the_day"):
        connection.execute(f"drop {made}")


def _of_jobs():
    """Return the names of the tables whose rows belong to a job (list of str)."""
    return [name for name, table in catalogue.tables().items()
            if name == "jobs" or any(parent == "jobs" for _, parent, _ in table.references)]


def _job_days():
    """SELECT of every day that is written of a job."""
    return " union all ".join(f"select job, {column} as day from standing.{name}"
                              for name in _of_jobs() for column in known_days.TABLES[name].days)


def _select(name):
    """SELECT of the rows of a table that were known, with what was known of them."""
    rule = known_days.TABLES[name]
    values = rule.values()
    if name in catalogue.tables() and not rule.is_register:
        values["extra"] = "cast(null as varchar)"
    told = ", ".join(f'{expression} as "{column}"' for column, expression in values.items())
    shown = f"base.* replace ({told})" if told else "base.*"
    state = "left join job_states as state on base.job = state.job" if name in _of_jobs() else ""
    return f"select {shown} from standing.{name} as base {state} where {rule.row()}"
