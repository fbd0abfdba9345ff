"""Why a job earned other than its quote promised: quoted to actual, piece by piece, with a reason."""

import numpy as np
import pandas as pd

from pipeline.decisions.earnings import job_margins
from pipeline.kernels import variances as kernel
from pipeline.models.landed import parts_ledger, unit_costs_on
from pipeline.store import read

COLUMNS = ["job", "kind", "quoted_amount", "actual_amount", "variance_amount", "reason"]
KINDS = ("parts_price", "parts_quantity", "hours", "rate", "scope_growth", "other")


def variances(connection):
    """Split the gap between the margin a quote promised and the margin earned, for every delivered job with a quote.

    Positive takes from the margin. Promised: quoted amount - quoted parts at cost (the quote's figure less the shop's
    part markup) - quoted hours at own cost - other costs the accepted quote lines allow for. Kinds: *parts_price*
    (pieces used, at today's cost against the cost known when the job was booked), *parts_quantity* (pieces used at
    that cost against the quoted parts), *hours* (own cost of more or fewer hours), *rate* (hours worked and not
    billed, at the quoted rate; only where billed hours are written down), *scope_growth* (invoiced more or less than
    quoted, apart from unbilled hours) and *other* (sublet, freight, supplies and call-backs). Where all are known they
    add up to the gap.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    pandas.DataFrame
        Columns of the output table ``variances``; by job, largest first. A kind that the records cannot tell has no
        row.
    """
    settings = read.settings(connection)
    jobs = read.frame(connection, "jobs_delivered_money").drop(columns="other_amount")
    jobs = jobs.dropna(subset=["quoted_amount", "quoted_hours", "quoted_parts_amount"], how="all")
    jobs = jobs.merge(job_margins(connection).drop(columns=["family", "scope", "invoiced_amount"]), on="job")
    jobs = jobs.merge(_parts_when_booked(connection), how="left", on="job")
    jobs = jobs.merge(_quote_lines(connection), how="left", on="job")
    hour_cost = settings.labour_cost + settings.overhead_per_hour
    rows = pd.concat(
        [
            _parts_rows(jobs, 1 + settings.part_markup_share),
            _hours_row(jobs, hour_cost),
            _rate_row(jobs),
            _growth_row(jobs),
            _other_row(jobs),
        ],
        ignore_index=True,
    )
    rows = rows[rows["variance_amount"].notna()].round(4)
    rows["variance_amount"] += 0.0  # no minus before a zero
    return rows.sort_values(
        ["job", "variance_amount", "kind"],
        ascending=[True, False, True],
        ignore_index=True,
        key=lambda each: each.abs() if each.name == "variance_amount" else each,
    )[COLUMNS]


def _quote_lines(connection):
    return read.query(
        connection,
        """
        select job, labour_amount::double / nullif(labour_hours, 0) as quoted_rate,
               other_amount::double as allowed_amount
        from accepted_quotes""",
    )


def _parts_when_booked(connection):
    """Cost of the pieces a job used at what each cost when the job was booked, and the part that drifted most.

    A part never bought by then counts at what it did cost: its drift is not known.
    """
    ledger = parts_ledger(connection)
    used = ledger.issues[ledger.issues["job"].notna() & ~ledger.issues["is_callback"].astype(bool)]
    booked = read.query(
        connection, "select job, coalesce(booked_on, started_on, delivered_on) as known_on from tidy_jobs"
    )
    used = used.merge(booked, on="job")
    unit_amount = used["cost_amount"] / used["pcs"]
    then_amount = unit_costs_on(ledger, used["part"], used["known_on"])
    used = used.assign(
        unit_amount=unit_amount, then_amount=np.where(np.isnan(then_amount), unit_amount, then_amount)
    )
    used["drift"] = kernel.price_variance(used["pcs"], used["unit_amount"], used["then_amount"])
    largest = used.sort_values("drift", key=np.abs).groupby("job").tail(1).set_index("job")
    return pd.DataFrame(
        {
            "then_total": (used["pcs"] * used["then_amount"]).groupby(used["job"]).sum(),
            "used_pcs": used.groupby("job")["pcs"].sum(),
            "drift_part": largest["part"],
            "drift_amount": largest["drift"],
        }
    ).reset_index()


def _parts_rows(jobs, mark_up):
    known = jobs[jobs["parts_amount"].notna()]
    then = known["then_total"].fillna(0.0)
    quoted = known["quoted_parts_amount"] / mark_up
    price = known.assign(
        kind="parts_price",
        quoted=then,
        actual=known["parts_amount"],
        reason=[
            f"most by {part}: {amount:+.2f} since the job was booked"
            if amount and abs(amount) >= 0.005
            else "costs as when the job was booked"
            for part, amount in zip(known["drift_part"], known["drift_amount"].fillna(0.0), strict=True)
        ],
    )
    quantity = known.assign(
        kind="parts_quantity",
        quoted=quoted,
        actual=then,
        reason=[
            f"{pcs:.0f} pieces used, {amount:.2f} at the cost of the day of booking; quoted {said:.2f} before markup"
            for pcs, amount, said in zip(known["used_pcs"].fillna(0), then, quoted, strict=True)
        ],
    )
    return pd.concat([_rows(price), _rows(quantity)], ignore_index=True)


def _hours_row(jobs, hour_cost):
    variance = kernel.efficiency_variance(jobs["job_hours"], jobs["quoted_hours"], hour_cost)
    return _rows(
        jobs.assign(
            kind="hours",
            quoted=jobs["quoted_hours"] * hour_cost,
            actual=jobs["job_hours"] * hour_cost,
            reason=[
                f"{worked:g} hours worked, {said:g} quoted"
                for worked, said in zip(jobs["job_hours"], jobs["quoted_hours"], strict=True)
            ],
        ),
        variance,
    )


def _quoted_rate(jobs):
    """Charged per quoted hour: from the accepted labour lines, else all that is not parts."""
    rest = (jobs["quoted_amount"] - jobs["quoted_parts_amount"]) / jobs["quoted_hours"].where(
        jobs["quoted_hours"] > 0
    )
    return jobs["quoted_rate"].fillna(rest)


def _unbilled(jobs):
    """Hours worked and not billed, at the quoted rate; unknown where nobody wrote down billed hours."""
    rate = _quoted_rate(jobs)
    return kernel.rate_variance(jobs["job_hours"], rate, jobs["billed_hours"] * rate / jobs["job_hours"])


def _rate_row(jobs):
    unbilled = _unbilled(jobs)
    rate = _quoted_rate(jobs)
    return _rows(
        jobs.assign(
            kind="rate",
            quoted=jobs["job_hours"] * rate,
            actual=jobs["billed_hours"] * rate,
            reason=[
                f"{billed:g} of {worked:g} hours billed"
                for billed, worked in zip(jobs["billed_hours"], jobs["job_hours"], strict=True)
            ],
        ),
        unbilled,
    )


def _growth_row(jobs):
    unbilled = pd.Series(_unbilled(jobs), index=jobs.index).fillna(0.0)
    variance = jobs["quoted_amount"] - jobs["invoiced_amount"] - unbilled
    return _rows(
        jobs.assign(
            kind="scope_growth",
            quoted=jobs["quoted_amount"],
            actual=jobs["invoiced_amount"] + unbilled,
            reason=[
                _growth_reason(quoted, invoiced, lost)
                for quoted, invoiced, lost in zip(
                    jobs["quoted_amount"], jobs["invoiced_amount"], unbilled, strict=True
                )
            ],
        ),
        variance,
    )


def _growth_reason(quoted, invoiced, lost):
    apart = f", {lost:.2f} of unbilled hours apart" if abs(lost) >= 0.005 else ""
    if abs(quoted - invoiced) < 0.005:
        return f"invoiced as quoted{apart}"
    return (
        f"invoiced {abs(invoiced - quoted):.2f} {'more' if invoiced > quoted else 'less'} than quoted{apart}"
    )


def _other_row(jobs):
    allowed = jobs["allowed_amount"].fillna(0.0)
    actual = jobs["other_amount"] + jobs["callback_amount"]
    return _rows(
        jobs.assign(
            kind="other",
            quoted=allowed,
            actual=actual,
            reason=[
                _other_reason(*figures)
                for figures in jobs[
                    ["sublet_amount", "freight_amount", "supplies_amount", "callback_amount"]
                ].itertuples(index=False)
            ],
        )
    )


def _other_reason(sublet, freight, supplies, callback):
    named = {"sublet": sublet, "freight": freight, "supplies": supplies, "call-backs": callback}
    return (
        ", ".join(f"{name} {amount:.2f}" for name, amount in named.items() if abs(amount) >= 0.005) or "none"
    )


def _rows(jobs, variance=None):
    variance = jobs["actual"] - jobs["quoted"] if variance is None else variance
    return pd.DataFrame(
        {
            "job": jobs["job"],
            "kind": jobs["kind"],
            "quoted_amount": jobs["quoted"],
            "actual_amount": jobs["actual"],
            "variance_amount": variance,
            "reason": jobs["reason"],
        }
    )
