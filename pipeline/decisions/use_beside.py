"""Beside the forecast: why parts were taken, which may stand in for which, how strongly uses of a job hang together."""

from dataclasses import dataclass

import pandas as pd

from pipeline.kernels import discrete, job_factor
from pipeline.models import counter_sales, plays
from pipeline.models.use_per_job import REASONS
from pipeline.store import read

REASON_COLUMNS = ["family", "failed_uses", "policy_uses", "companion_uses", "other_uses", "unknown_reason_uses",
                  "callback_uses"]
STAND_IN_COLUMNS = ["days", "part", "stands_in_for", "condition", "expected_pcs", "q90_pcs", "other_expected_pcs",
                    "together_expected_pcs", "together_q90_pcs"]
STAND_IN_METHOD = (
    "Each rule is followed in its direction: the first part may stand in for the second, not the other way round. "
    "Together: what the first part's shelf would have to cover if it stood in every time, from the sum of the two "
    "distributions taken as independent. 90 %: enough 9 times in 10."
)


@dataclass(frozen=True)
class UseBeside:
    """What stands beside the forecast.

    Attributes
    ----------
    reasons, stand_ins : pandas.DataFrame
        From :func:`reasons` and :func:`stand_ins`.
    counter : dict of int to pipeline.models.counter_sales.CounterSales
        Sales over the counter, by length of the window in days: no part of the forecast.
    roughness : pipeline.kernels.job_factor.Loading
        How strongly the uses of one job hang together.
    plays_note : str
        Whether the play counter foretells use.
    """

    reasons: pd.DataFrame
    stand_ins: pd.DataFrame
    counter: dict
    roughness: job_factor.Loading
    plays_note: str


def make(connection, made):
    """Gather what stands beside the forecast.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    made : pipeline.decisions.forecast.Forecast
        The forecast.

    Returns
    -------
    UseBeside
    """
    counter = {days: counter_sales.predict(connection, made.today, days) for days in made.basis.predicted}
    return UseBeside(reasons(connection, made), stand_ins(connection, made), counter, made.basis.use.factor,
                     plays.fit(connection, made.basis.use).note)


def reasons(connection, made):
    """Uses by main reason, as the records say; a use is one job taking one part.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    made : pipeline.decisions.forecast.Forecast
        The forecast.

    Returns
    -------
    pandas.DataFrame
        family, failed_uses, policy_uses, companion_uses, other_uses (broke in the work, no cure, upgrade),
        unknown_reason_uses, callback_uses (jobs called back by part: in none of the others).
    """
    named = [f"{reason}_uses" for reason in REASONS]
    rates = made.basis.use.rates
    counts = rates.groupby("family")[[*named, "unknown_reason_uses", "jobs_with_use"]].sum()
    counts["other_uses"] = counts["jobs_with_use"] - counts[[*named, "unknown_reason_uses"]].sum(axis=1)
    called = read.query(connection, "select family, sum(jobs_called_back) as uses from callback_use group by family")
    called = called.set_index("family")["uses"]
    counts = counts.reindex(counts.index.union(called.index), fill_value=0)
    counts["callback_uses"] = called.reindex(counts.index, fill_value=0)
    return counts.reset_index(names="family")[REASON_COLUMNS].astype(dict.fromkeys(REASON_COLUMNS[1:], int))


def stand_ins(connection, made):
    """Parts that may stand in for others, and what one shelf for both would have to cover.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    made : pipeline.decisions.forecast.Forecast
        The forecast.

    Returns
    -------
    pandas.DataFrame
        One row per window and rule: days, part, stands_in_for, condition (empty where none was written), expected_pcs
        and q90_pcs of the part's own use, other_expected_pcs, together_expected_pcs, together_q90_pcs. Rules of which
        neither part was ever used are left out.
    """
    rules = read.query(connection, """
        select part, can_replace, condition from interchange where part <> can_replace order by part, can_replace""")
    rows = []
    for days, predicted in made.basis.predicted.items():
        known = set(predicted.by_part["part"])
        for part, other, condition in rules.itertuples(index=False):
            if part in known or other in known:
                own, others = predicted.pmf(part), predicted.pmf(other)
                both = discrete.sum_of([own, others])
                means = [float(discrete.mean(pmf)) for pmf in (own, others, both)]
                own_q90, both_q90 = (int(discrete.quantiles(pmf, [0.9])[0]) for pmf in (own, both))
                rows.append((days, part, other, condition, means[0], own_q90, *means[1:], both_q90))
    return pd.DataFrame(rows, columns=STAND_IN_COLUMNS)
