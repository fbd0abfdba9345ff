"""Every output table, computed once as long as the store does not change, and written as CSV."""

from functools import lru_cache, partial
from pathlib import Path

from pipeline.reports.shop import stamp
from pipeline.store import connect, read


def table(store, name):
    """One output table.

    Parameters
    ----------
    store : str or pathlib.Path
        The DuckDB file.
    name : str
        One of `NAMES`.

    Returns
    -------
    pandas.DataFrame
        A copy, free to change.

    Raises
    ------
    pipeline.errors.StoreError
        If the store cannot be read.
    """
    topic, frame_of = _TABLES[name]
    return frame_of(decided(store, topic)).copy()


def decided(store, topic):
    """What a decision came to, worked out once as long as the store does not change.

    Parameters
    ----------
    store : str or pathlib.Path
        The DuckDB file.
    topic : str
        One of `TOPICS`, or ``backtest``.

    Returns
    -------
    object
        Whatever the decision returns; not to be changed.
    """
    return _decided(str(store), stamp(store), topic)


def write(store, name, folder):
    """Write one output table as CSV: UTF-8, one header row, the unknown empty.

    Parameters
    ----------
    store : str or pathlib.Path
        The DuckDB file.
    name : str
        One of `NAMES`.
    folder : str or pathlib.Path
        Made if missing.

    Returns
    -------
    pathlib.Path
        The file written.
    """
    path = Path(folder) / f"{name}.csv"
    path.parent.mkdir(parents=True, exist_ok=True)
    table(store, name).to_csv(path, index=False, encoding="utf-8", lineterminator="\n")
    return path


@lru_cache(maxsize=32)
def _decided(store, _stamp, topic):
    if topic == "backtest":
        return _backtest(store)  # opens the store of each past day itself
    with connect.open_read(store) as connection:
        return TOPICS[topic](connection, partial(decided, store))


def _backtest(store):
    from pipeline.decisions import backtest

    return backtest.make(store, table(store, "order_plan"))


def _forecast(connection, _decided):
    from pipeline.decisions import forecast

    return forecast.make(connection)


def _use_change(connection, decided):
    from pipeline.decisions import use_change

    return use_change.make(connection, decided("forecast"))


def _use_beside(connection, decided):
    from pipeline.decisions import use_beside

    return use_beside.make(connection, decided("forecast"))


def _order_plan(connection, _decided):
    from pipeline.decisions import order_plan

    return order_plan.make(connection)


def _plan_table(plan):
    from pipeline.decisions import order_plan

    return order_plan.table(plan)


def _pick_list(connection, decided):
    from pipeline.decisions import pick_list

    return pick_list.make(decided("order_plan"), connection)


def _pick_table(made):
    from pipeline.decisions import pick_list

    return pick_list.table(made)


def _bay_calendar(connection, decided):
    from pipeline.decisions import bay_calendar

    return bay_calendar.table(decided("pick_list"), decided("order_plan"), connection)


def _idle_stock(connection, decided):
    from pipeline.decisions import idle_stock

    return idle_stock.table(decided("order_plan"), connection)


def _count_list(connection, decided):
    from pipeline.decisions import count_list

    return count_list.table(decided("order_plan"), connection)


def _lead_times(connection, _decided):
    from pipeline.decisions import lead_times

    return lead_times.table(connection, read.settings(connection).today)


def _readiness(_connection, decided):
    from pipeline.decisions import job_ready

    return job_ready.readiness(decided("order_plan"))


def _attention(connection, decided):
    from pipeline.decisions import attention

    return attention.table(decided("order_plan"), connection)


def _lives(connection, _decided):
    from pipeline.models import lives

    return lives.fit(connection)


def _scope(connection, _decided):
    from pipeline.decisions import scope

    return scope.make(connection)


def _hours(connection, _decided):
    from pipeline.decisions import hours_outlook

    return hours_outlook.job_hours_outlook(connection)


def _stage_hours(connection, _decided):
    from pipeline.decisions import hours_outlook

    return hours_outlook.stage_hours(connection)


def _margins(connection, _decided):
    from pipeline.decisions import earnings

    return earnings.job_margins(connection)


def _variances(connection, _decided):
    from pipeline.decisions import variances

    return variances.variances(connection)


def _records(connection, _decided):
    return read.frame(connection, "last_load_records")


def _itself(frame):
    return frame


TOPICS = {
    "forecast": _forecast,
    "use_change": _use_change,
    "use_beside": _use_beside,
    "order_plan": _order_plan,
    "pick_list": _pick_list,
    "bay_calendar": _bay_calendar,
    "idle_stock": _idle_stock,
    "count_list": _count_list,
    "lead_times": _lead_times,
    "readiness": _readiness,
    "attention": _attention,
    "lives": _lives,
    "scope": _scope,
    "hours": _hours,
    "stage_hours": _stage_hours,
    "margins": _margins,
    "variances": _variances,
    "records": _records,
}

_TABLES = {
    "forecast": ("forecast", lambda made: made.forecast),
    "forecast_parts": ("forecast", lambda made: made.forecast_parts),
    "forecast_families": ("forecast", lambda made: made.forecast_families),
    "backtest": ("backtest", lambda made: made.table),
    "lead_times": ("lead_times", _itself),
    "order_plan": ("order_plan", _plan_table),
    "baskets": ("order_plan", lambda made: made.baskets),
    "job_ready": ("readiness", lambda made: made.table),
    "ready_curve": ("readiness", lambda made: made.curve),
    "stalling_parts": ("readiness", lambda made: made.stalling),
    "pick_list": ("pick_list", _pick_table),
    "bay_calendar": ("bay_calendar", _itself),
    "idle_stock": ("idle_stock", _itself),
    "count_list": ("count_list", _itself),
    "lives": ("lives", lambda made: made.table),
    "scope_options": ("scope", lambda made: made.options),
    "scope_lines": ("scope", lambda made: made.lines),
    "scope_frontier": ("scope", lambda made: made.frontiers),
    "scope_calls": ("scope", lambda made: made.calls),
    "job_hours_outlook": ("hours", _itself),
    "stage_hours": ("stage_hours", _itself),
    "job_margins": ("margins", _itself),
    "variances": ("variances", _itself),
    "records": ("records", _itself),
}
NAMES = tuple(_TABLES)
