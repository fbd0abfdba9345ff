"""Calls for which no part is to blame: a reseated connector, an adjustment, transport; by scope of the job."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.call_rates import rate_quantile, shrunk_rates
from pipeline.kernels.mean_cumulative import mean_cumulative
from pipeline.store import read

# Until the shop's own records say otherwise: one such call in twenty jobs within ninety days (from memory), a
# guess worth twenty jobs.
GUESS_CALLS, GUESS_JOBS, GUESS_DAYS = 1.0, 20.0, 90.0
SCOPES = ("fix_only", "refresh", "thorough")
# Logarithm of calls per job over those of fix-only jobs, and how sure that is: from memory, no source.
OPENING_EFFECT, OPENING_EFFECT_SD = np.array([0.0, 0.11, 0.22]), 0.33
_TRIED_PER_DRAW = 100


@dataclass(frozen=True)
class OtherCalls:
    """Calls without a part, fitted.

    Attributes
    ----------
    table : pandas.DataFrame
        One row per scope: ``jobs_watched``, ``calls``, ``horizon_days``, ``expected_calls`` per job within the
        horizon, and its 80 % interval ``low_calls``, ``high_calls``.
    curve : pandas.DataFrame
        Mean cumulative function of all scopes together: ``days`` since delivery, ``mean_calls`` per job, its
        standard error ``sd_calls``.
    alpha, beta : numpy.ndarray
        Gamma belief about the expected calls, in the rows of ``table``.
    """

    table: pd.DataFrame
    curve: pd.DataFrame
    alpha: np.ndarray
    beta: np.ndarray

    def draws(self, rng, scope, n_draws):
        """Draw expected calls per job of a scope (n_draws,)."""
        row = SCOPES.index(scope)
        return rng.gamma(self.alpha[row], 1 / self.beta[row], n_draws)

    def draws_by_scope(self, rng, n_draws):
        """Draw expected calls per job of every scope, scopes related as opening relates them.

        Opening assemblies disturbs them, and a thorough job opens nearly all: it is believed to bring a quarter more
        such calls than fixing, give or take a third, and a refresh job half way between. What each scope's own calls
        say is weighed by that belief, so that three jobs without a call do not make a rebuilt machine the quietest.

        Parameters
        ----------
        rng : numpy.random.Generator
            Source of randomness.
        n_draws : int

        Returns
        -------
        ndarray of float, shape (n_draws, 3)
            Columns in the order of `SCOPES`.

        References
        ----------
        Sampling-importance resampling: Rubin (1988), in Bayesian Statistics 3, 395-402.
        """
        drawn = rng.gamma(self.alpha, 1 / self.beta, (_TRIED_PER_DRAW * n_draws, len(SCOPES)))
        drawn = np.maximum(drawn, np.finfo(float).tiny)  # a belief in next to no calls draws none at all
        gap = (np.log(drawn) - np.log(drawn[:, :1]) - OPENING_EFFECT) / OPENING_EFFECT_SD
        weight = np.exp(-(gap[:, 1:] ** 2).sum(axis=1) / 2)
        running = np.cumsum(weight) / weight.sum()
        even = (np.arange(n_draws) + rng.random(n_draws)) / n_draws
        return rng.permutation(drawn[np.minimum(np.searchsorted(running, even), len(drawn) - 1)])


def fit(connection, horizon_days):
    """Fit the expected calls without a part per job, by scope, within a horizon after delivery.

    How calls spread over the days since delivery is taken from all scopes together (mean cumulative function); how
    many there are from each scope, drawn towards all jobs together (gamma-Poisson): three jobs make no rate.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.
    horizon_days : float
        Days after delivery; shortened to ``callback_watch_days``, beyond which nobody noted calls.

    Returns
    -------
    OtherCalls
    """
    settings = read.settings(connection)
    horizon = float(min(horizon_days, settings.callback_watch_days))
    jobs = _watched(connection, settings)
    calls = read.query(
        connection,
        """
        select job, days_since_delivery as days from tidy_callbacks where part is null""",
    )
    calls = calls.merge(jobs.reset_index()[["job", "index", "watch_days"]], on="job")
    calls = calls[(calls["days"] >= 0) & (calls["days"] <= calls["watch_days"])]
    days, mean, sd = mean_cumulative(calls["days"], calls["index"], jobs["watch_days"])
    exposure = pd.Series(_share_by(jobs["watch_days"], days, mean, horizon), index=jobs.index)
    in_time = calls[calls["days"] <= horizon].merge(jobs[["job", "scope"]], on="job")
    number = in_time.groupby("scope").size().reindex(SCOPES, fill_value=0).to_numpy(dtype=float)
    watched = exposure.groupby(jobs["scope"]).sum().reindex(SCOPES, fill_value=0.0).to_numpy(dtype=float)
    alpha, beta = shrunk_rates(number, watched, (GUESS_CALLS * max(horizon, 1.0) / GUESS_DAYS, GUESS_JOBS))
    table = pd.DataFrame(
        {
            "scope": SCOPES,
            "jobs_watched": jobs.groupby("scope").size().reindex(SCOPES, fill_value=0).to_numpy(),
            "calls": number.astype(int),
            "horizon_days": horizon,
            "expected_calls": alpha / beta,
            "low_calls": rate_quantile(0.1, alpha, beta),
            "high_calls": rate_quantile(0.9, alpha, beta),
        }
    )
    return OtherCalls(table, pd.DataFrame({"days": days, "mean_calls": mean, "sd_calls": sd}), alpha, beta)


def _watched(connection, settings):
    """Delivered jobs and their days of watch; none where no call-back was ever noted: nobody may have looked."""
    jobs = read.query(
        connection,
        """
        select job, scope, delivered_on from tidy_jobs where status = 'delivered' and delivered_on is not null
        order by job""",
    )
    if read.is_empty(connection, "callbacks"):
        jobs = jobs.iloc[:0]
    since = (pd.Timestamp(settings.today) - pd.to_datetime(jobs["delivered_on"])).dt.days
    return jobs.assign(watch_days=np.clip(since, 0, settings.callback_watch_days).astype(float))


def _share_by(watch_days, days, mean, horizon):
    """Share of the horizon's calls that come by each job's last day of watch; evenly spread where none came."""
    until = np.minimum(watch_days.to_numpy(dtype=float), horizon)
    if not days.size or days[0] > horizon:
        return until / horizon if horizon > 0 else until * 0.0
    reached = mean[np.searchsorted(days, [horizon], side="right")[0] - 1]
    shares = np.concatenate([[0.0], mean])[np.searchsorted(days, until, side="right")] / reached
    return np.minimum(shares, 1.0)
