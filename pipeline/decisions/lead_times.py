"""Table of the vendors' lead times."""

from pipeline.models import lead_times


def table(connection, today):
    """Table ``lead_times``: days from order to receipt by vendor.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An open store.
    today : datetime.date
        Open orders are known to have taken at least until this day.

    Returns
    -------
    pandas.DataFrame
        vendor, receipts, open_orders, mean_days, q10_days, q50_days, q90_days, note; the slowest vendor last.
        Missing days where neither a quote nor receipts tell.
    """
    frame = lead_times.fit(connection, today).frame
    return frame.sort_values(["mean_days", "vendor"]).reset_index(drop=True)
