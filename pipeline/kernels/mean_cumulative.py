"""Mean cumulative function: how many events a job has had, on average, by a given age."""

import numpy as np
from scipy.special import ndtri

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import whole


def mean_cumulative(event_time, event_job, end_time):
    """Mean number of events per job against time since its start.

    Parameters
    ----------
    event_time : array_like of float, shape (n_events,)
        Days from a job's start to each of its events; a job may have any number.
    event_job : array_like of int, shape (n_events,)
        Which job, as an index into ``end_time``.
    end_time : array_like of float, shape (n_jobs,)
        Day on which each job's watch ended; it is watched on that day.

    Returns
    -------
    time, mean, sd : ndarray of float, shape (n_times,)
        Distinct event times, rising; mean events per job by then; its standard error, from the
        differences between jobs, so events of one job need not be independent.

    Raises
    ------
    InvalidParameter
        If an event lies after its job's watch or names no job.

    References
    ----------
    Nelson (1988), J. Quality Technology 20, 24-35. Variance: Lawless & Nadeau (1995),
    Technometrics 37, 158-168.

    Examples
    --------
    >>> time, mean, sd = mean_cumulative([5, 8], [0, 1], [10, 10])
    >>> time, mean
    (array([5., 8.]), array([0.5, 1. ]))
    """
    event_time, event_job, end_time = _watched(event_time, event_job, end_time)
    time, place = np.unique(event_time, return_inverse=True)
    watched = end_time.size - np.searchsorted(np.sort(end_time), time)
    events = np.bincount(place, minlength=time.size)
    step = events / watched
    scores = np.zeros((end_time.size, time.size))
    np.add.at(scores, (event_job, place), 1.0)
    scores -= (end_time[:, None] >= time) * step
    variance = ((scores / watched).cumsum(axis=1) ** 2).sum(axis=0)
    return time, np.cumsum(step), np.sqrt(variance)


def mean_cumulative_at(time, mean, sd, horizon, level=0.8):
    """Mean cumulative function read at a horizon, with its interval.

    Parameters
    ----------
    time, mean, sd : ndarray of float, shape (n_times,)
        What :func:`mean_cumulative` returned.
    horizon : array_like of float
        Days since the start, any shape.
    level : float
        Share of such intervals meant to hold the true mean, between 0 and 1.

    Returns
    -------
    expected, low, high : ndarray of float
        Shape of ``horizon``; 0 and an interval of width 0 before the first event (so use a model
        where no event was seen: this method cannot tell rare from never).

    References
    ----------
    Log-scale interval: Nelson (2003), Recurrent Events Data Analysis, chapter 3.
    """
    level = require.share("level", level)
    place = np.searchsorted(time, np.asarray(horizon, dtype=float), side="right")
    expected = np.concatenate([[0.0], mean])[place]
    error = np.concatenate([[0.0], sd])[place]
    reach = np.exp(ndtri((1 + level) / 2) * error / np.where(expected > 0, expected, 1.0))
    return expected, expected / reach, expected * reach


def _watched(event_time, event_job, end_time):
    end_time, event_time = require.not_negative("end_time", end_time), require.not_negative("event_time", event_time)
    event_job = whole("event_job", event_job, low=0)
    if event_time.shape != event_job.shape or event_time.ndim != 1 or end_time.ndim != 1:
        raise InvalidParameter("event_time and event_job differ in length; wanted one job per event.")
    if event_job.size and event_job.max() >= end_time.size:
        raise InvalidParameter(
            f"event_job holds {event_job.max()}; wanted an index into the {end_time.size} jobs of end_time."
        )
    is_late = event_time > end_time[event_job]
    if is_late.any():
        first = int(np.flatnonzero(is_late)[0])
        raise InvalidParameter(
            f"event_time {event_time[first]:g} of job {event_job[first]} lies after its watch ended "
            f"({end_time[event_job[first]]:g}); wanted events inside the watch only."
        )
    return event_time, event_job, end_time
