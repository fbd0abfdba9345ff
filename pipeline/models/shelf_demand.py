"""Pieces of each part that the lead time ahead will take, and that a week takes in the long run: distributions."""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.models import demand

WEEK_DAYS = 7.0
WINDOW_WEEKS = np.array([1, 2, 3, 5, 8, 13, 21])  # windows laid out; those between are mixed from neighbours


@dataclass(frozen=True)
class ShelfDemand:
    """Demand distributions, rows in the order of ``parts``.

    Attributes
    ----------
    parts : list of str
    week_pmf : numpy.ndarray, shape (n_parts, n_values)
        Pieces taken in a week of the long run, all jobs counted.
    coming : list of numpy.ndarray, shape (n_parts, n_values)
        Pieces the coming 1, 2, 3, 5 ... weeks take (``WINDOW_WEEKS``), from today's jobs and those not yet booked;
        written needs are in it to the piece.
    """

    parts: list
    week_pmf: np.ndarray
    coming: list


def predict(parts, use, reservations):
    """Predict the demand for parts over the windows that lead times need.

    Parameters
    ----------
    parts : sequence of str
        Parts, in the order wanted; one never used has no demand.
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    reservations : pipeline.models.reservations.Reservations
        Needs of booked and running jobs.

    Returns
    -------
    ShelfDemand
    """
    parts, pipeline = list(parts), reservations.others
    coming = [aligned(demand.predict(use, pipeline, days), parts, reservations.known_pcs(parts, days))
              for days in WINDOW_WEEKS * WEEK_DAYS]
    week = aligned(demand.predict(use, pipeline.steady(), WEEK_DAYS, "unbooked"), parts, np.zeros(len(parts), int))
    return ShelfDemand(parts, week, coming)


def of_parts(use, parts):
    """The use model of some parts alone.

    Parameters
    ----------
    use : pipeline.models.use_per_job.UsePerJob
        Use per job.
    parts : collection of str

    Returns
    -------
    pipeline.models.use_per_job.UsePerJob
    """
    is_wanted = use.rates["part"].isin(list(parts)).to_numpy()
    beliefs = type(use.beliefs)(*(getattr(use.beliefs, name)[is_wanted] for name in use.beliefs.__dataclass_fields__))
    return replace(use, rates=use.rates[is_wanted].reset_index(drop=True), beliefs=beliefs)


def mixed(windows, window_shares):
    """Demand over a lead time that varies: the windows' distributions in the shares of their lengths.

    Parameters
    ----------
    windows : list of numpy.ndarray, shape (n_parts, n_values)
        Distributions over ``WINDOW_WEEKS``.
    window_shares : numpy.ndarray, shape (n_parts, n_windows)
        From :func:`window_shares`; rows sum to 1.

    Returns
    -------
    numpy.ndarray, shape (n_parts, longest)
        Rows sum to 1.
    """
    longest = max(window.shape[1] for window in windows)
    total = np.zeros((len(window_shares), longest))
    for window, share in zip(windows, window_shares.T, strict=True):
        total[:, : window.shape[1]] += share[:, None] * window
    return total / total.sum(axis=1, keepdims=True)


def window_shares(half_week_shares):
    """Shares of the laid-out windows from the shares of lead times in half weeks.

    Parameters
    ----------
    half_week_shares : numpy.ndarray, shape (n_parts, n_half_weeks)
        Chance that an order arrives in the first, second ... half week after it; rows sum to 1.

    Returns
    -------
    numpy.ndarray, shape (n_parts, n_windows)
        The lead time is rounded to the nearest week and the week of review added; a window that is not laid out is
        shared between its neighbours so that its mean length stays. What lasts longer than all counts as the longest.

    Examples
    --------
    >>> window_shares(np.array([[0.0, 0.5, 0.5, 0.0]]))[0, :3]  # about 7 days to arrive, 7 to the next order
    array([0., 1., 0.])
    """
    n_weeks = half_week_shares.shape[1] // 2
    padded = np.concatenate([np.zeros((len(half_week_shares), 1)), half_week_shares[:, : 2 * n_weeks + 1]], axis=1)
    padded = np.pad(padded, ((0, 0), (0, 2 * (n_weeks + 1) - padded.shape[1])))
    weeks = padded.reshape(len(padded), n_weeks + 1, 2).sum(axis=2)  # lead time rounded to 0, 1, 2 ... weeks
    lengths = np.minimum(np.arange(n_weeks + 1) + 1, WINDOW_WEEKS[-1])
    split = np.array([np.interp(lengths, WINDOW_WEEKS, row) for row in np.eye(len(WINDOW_WEEKS))])
    return weeks @ split.T


def aligned(predicted, parts, certain_pcs):
    """Distributions of parts as one array, with pieces that are certain on top.

    Parameters
    ----------
    predicted : pipeline.models.demand.Demand
        The forecast; a part it does not know takes none for certain.
    parts : sequence of str
        Parts, in the order wanted.
    certain_pcs : numpy.ndarray of int, shape (n_parts,)
        Pieces each part takes besides.

    Returns
    -------
    numpy.ndarray, shape (n_parts, n_values)
        Rows sum to 1.
    """
    place = {part: row for row, part in enumerate(predicted.by_part["part"])}
    made = predicted.matrix()
    rows = np.array([place.get(part, -1) for part in parts], dtype=int)
    none = np.zeros(made.shape[1])
    none[0] = 1.0
    found = np.where((rows >= 0)[:, None], made[rows] if len(made) else none, none)
    total = np.zeros((len(parts), made.shape[1] + int(certain_pcs.max(initial=0))))
    np.put_along_axis(total, np.arange(made.shape[1]) + certain_pcs[:, None], found, axis=1)
    return total / total.sum(axis=1, keepdims=True)
