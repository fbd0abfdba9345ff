"""What a piece is worth at the end of a horizon: life left, in lives of a new piece."""

import numpy as np

from pipeline.kernels import require


def life_left(time, first_mean_life, mean_life, failures):
    """Expected life still to come, at a horizon, of the piece that is then in place.

    N failures by the horizon h mean that life N + 1 is the first to end after it, and "is life n + 1 still to be
    fitted" is known from the lives before it: N + 1 is a stopping time. By Wald's identity the lives up to that
    one add up, on average, to ``first_mean_life + mean_life * M(h)``; what reaches beyond h is the life left.

    Parameters
    ----------
    time : array_like of float
        Horizon h, at least 0.
    first_mean_life : array_like of float
        Mean life, counted from now, of the piece that is in place now (kept or new); unit of ``time``.
    mean_life : array_like of float
        Mean life of each new piece after it; unit of ``time``.
    failures : array_like of float
        Failures expected by the horizon, M(h).

    Returns
    -------
    ndarray of float
        Unit of ``time``; broadcast shape. Not below 0, whatever rounding M(h) brings.

    Raises
    ------
    InvalidParameter
        If a time or number of failures is negative, or a mean life not above 0.

    References
    ----------
    Wald (1944), Annals of Mathematical Statistics 15, 283-296; residual life: Cox (1962), Renewal Theory,
    section 5.

    Examples
    --------
    Lives of no memory have their whole mean before them at any time:

    >>> life_left(7.0, 2.0, 2.0, 7.0 / 2.0)
    array(2.)
    """
    time, failures = require.not_negative("time", time), require.not_negative("failures", failures)
    first_mean_life = require.positive("first_mean_life", first_mean_life)
    mean_life = require.positive("mean_life", mean_life)
    return np.asarray(np.maximum(first_mean_life + mean_life * failures - time, 0.0))


def life_left_gained(time, kept_mean_life, new_mean_life, kept_failures, new_failures):
    """Life left at a horizon that replacing now adds over keeping, in lives of a new piece.

    The difference of two :func:`life_left`, over the mean life of a new piece: the horizon falls out and
    ``(1 - kept_mean_life / new_mean_life) - (kept_failures - new_failures)`` remains. What is replaced now and
    what is replaced at a call-back are weighed alike: each call-back that keeping brings leaves a newer piece.

    Parameters
    ----------
    time : array_like of float
        Horizon, at least 0.
    kept_mean_life, new_mean_life : array_like of float
        Mean life from now of the piece if kept, and of a new one; unit of ``time``.
    kept_failures, new_failures : array_like of float
        Failures expected by the horizon if the piece is kept, and if it is replaced now.

    Returns
    -------
    ndarray of float
        Between -1 and 1: a piece in place is worth no more than a new one. Times the price of a new piece it is
        the value of life left. Broadcast shape.

    Raises
    ------
    InvalidParameter
        As for :func:`life_left`.

    References
    ----------
    As for :func:`life_left`.

    Examples
    --------
    Today, half a life is left in the kept piece:

    >>> life_left_gained(0.0, 500.0, 1000.0, 0.0, 0.0)
    array(0.5)
    """
    new = life_left(time, new_mean_life, new_mean_life, new_failures)
    kept = life_left(time, kept_mean_life, new_mean_life, kept_failures)
    return np.asarray(np.clip((new - kept) / new_mean_life, -1.0, 1.0))
