"""Read the store: whole views as frames, the shop's settings, and what is not there yet."""

import datetime
from dataclasses import dataclass

from pipeline.store import catalogue, views


@dataclass(frozen=True)
class Settings:
    """The shop's settings, given or by default; amounts in the shop's currency."""

    name: str
    currency: str
    labour_rate: float
    labour_cost: float
    overhead_per_hour: float
    bench_hours_per_week: float
    bays: float
    holding_rate_share: float
    bay_cost_per_day: float
    callback_trip_cost: float
    callback_goodwill_cost: float
    warranty_days: float
    callback_watch_days: float
    target_margin_share: float
    part_markup_share: float
    cash_limit_amount: float | None
    plays_per_month_home: float
    plays_per_month_route: float
    today: datetime.date
    defaulted: tuple


def frame(connection, name):
    """Return a whole view or table as a frame.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
    name : str
        A table of ``schema.sql`` or a view of ``sql/``.

    Returns
    -------
    pandas.DataFrame
        Columns in their order; money as float, for reckoning with intervals. Exact money is read
        with :func:`rows`.
    """
    return query(connection, f'from "{name}"')


def query(connection, sql, parameters=()):
    """Return the frame of a SELECT with its parameters; it may name any table and view."""
    return connection.execute(views.before(sql), list(parameters)).df()


def rows(connection, sql, parameters=()):
    """Return the rows of a SELECT as tuples, money as exact ``decimal.Decimal``."""
    return connection.execute(views.before(sql), list(parameters)).fetchall()


def settings(connection):
    """Return the shop's :class:`Settings`, each given by the owner or by its stated default.

    A value that cannot be read as its kind counts as not given; the load lists it.
    """
    keys = rows(connection, "select key, kind, value, is_given from tidy_settings")
    found = {key: _read(kind, value) for key, kind, value, _ in keys}
    found["today"] = found["today"] or last_date(connection)
    if found["callback_watch_days"] is None:
        found["callback_watch_days"] = found["warranty_days"]
    return Settings(**found, defaulted=tuple(sorted(key for key, *_, is_given in keys if not is_given)))


def last_date(connection):
    """Return the newest day that is written as done in the records (datetime.date).

    Days that lie in the future by nature (planned, promised, due) do not count. An empty store
    answers with the day of its last load, or 1970-01-01 where there was none.
    """
    done = [(table.name, column.name) for table in catalogue.tables().values() for column in table.columns
            if column.type == "DATE" and column.name not in ("planned_start_on", "promised_on", "due_on")]
    newest = " union all ".join(f'select max("{column}") as day from {table}' for table, column in done)
    day = rows(connection, f"select max(day) from ({newest})")[0][0]
    return day or rows(connection, "select coalesce(max(loaded_at)::date, date '1970-01-01') from loads")[0][0]


def missing_files(connection):
    """Return the optional files that hold nothing yet, with what each would unlock.

    Returns
    -------
    pandas.DataFrame
        Columns file, unlocks.
    """
    import pandas as pd

    # A file or sheet is there, too, whose rows were all set aside.
    seen = {name for (name,) in rows(connection, "select distinct holds from load_files where rows_in > 0")}
    # A register may be full of what other files imply, and still nobody wrote it.
    unseen = [(name, table) for name, table in catalogue.tables().items() if name not in seen
              and (name in catalogue.REGISTERS or is_empty(connection, name))]
    return pd.DataFrame([(f"{name}.csv", table.unlocks) for name, table in unseen if table.unlocks],
                        columns=["file", "unlocks"])


def is_empty(connection, name):
    """Return True where a table holds no row."""
    return not rows(connection, f'select count(*) from "{name}"')[0][0]


def _read(kind, value):
    if value is None or kind == "text":
        return value
    return datetime.date.fromisoformat(value) if kind == "date" else float(value)
