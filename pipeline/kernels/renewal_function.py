"""Expected failures of a piece that is replaced each time it fails: the renewal function."""

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft

from pipeline.kernels import require
from pipeline.kernels.weibull import mean_and_sd, survival

# Mean lives up to which a number of steps serves.
_STEPS_BY_LIVES = ((0.5, 12), (4.0, 64), (40.0, 512))
_NUMBERS_AT_ONCE = 2**18  # keeps a long list of pieces in a few megabytes


def expected_failures(first_share, later_survival):
    """Expected failures by each of n equal steps of time, for many pieces at once.

    The renewal equation ``M(t) = F1(t) + integral of F(t - x) dM(x)`` is taken with F at the middle
    of each step, which makes it a product of power series; they are divided by fast transforms.
    The error falls with the square of the step (slower where the life's density is unbounded at 0).

    Parameters
    ----------
    first_share : array_like of float, shape (..., n)
        Share of first lives ended by the end of step 1, 2, ... n.
    later_survival : array_like of float, shape (..., n)
        Share of later lives still running in the middle of step 1, 2, ... n of their own age.

    Returns
    -------
    ndarray of float, shape (..., n)
        Expected failures by the end of each step.

    Raises
    ------
    InvalidParameter
        If a share lies outside [0, 1].

    References
    ----------
    Mid-point rule on the renewal equation: Xie (1989), Communications in Statistics - Simulation
    and Computation 18, 281-293. Delayed renewal: Cox (1962), Renewal Theory, section 4.

    Examples
    --------
    Lives of no memory, one failure each unit of time on average: M(t) = t.

    >>> step = np.arange(1, 257) / 256
    >>> failures = expected_failures(1 - np.exp(-step), np.exp(-(step - 1 / 512)))
    >>> round(float(failures[-1]), 5)
    1.0
    """
    first_share = require.share("first_share", first_share)
    later_survival = require.share("later_survival", later_survival)
    n_steps = first_share.shape[-1]
    inverse = _reciprocal(later_survival)
    size = next_fast_len(2 * n_steps, real=True)
    increments = irfft(rfft(first_share, size) * rfft(inverse, size), size)[..., :n_steps]
    # survival * increments = first share, so the sum of increments is what is wanted
    return np.cumsum(increments, axis=-1)


def weibull_renewals(time, scale, shape, first_scale=None, first_shape=None, age=0.0, steps=256):
    """Expected failures of Weibull pieces by a time, each failed piece replaced by a new one.

    Parameters
    ----------
    time : array_like of float
        Horizon, at least 0.
    scale, shape : array_like of float
        Life of a new piece.
    first_scale, first_shape : array_like of float, optional
        Life, counted from now, of the piece that is in place; default as new.
    age : array_like of float
        Age that the first life had already reached, in the unit of ``time``.
    steps : int
        Steps of time; the answer is extrapolated from this number and twice it. 256 gives 1e-6 up
        to shape 5 and ten lives (1e-5 below shape 0.6).

    Returns
    -------
    ndarray of float
        Broadcast shape of the arguments.

    Raises
    ------
    InvalidParameter
        If a time or age is negative, or a scale or shape is not above 0.

    References
    ----------
    Smith & Leadbetter (1963), Technometrics 5, 393-396; extrapolation: Richardson (1911).

    Examples
    --------
    >>> round(float(weibull_renewals(1.0, 1.0, 2.0)), 6)
    0.753691
    """
    first_scale = scale if first_scale is None else first_scale
    first_shape = shape if first_shape is None else first_shape
    time, age = require.not_negative("time", time), require.not_negative("age", age)
    positive = {"scale": scale, "shape": shape, "first_scale": first_scale, "first_shape": first_shape}
    lives = [require.positive(name, values) for name, values in positive.items()]
    time, age, *lives = np.broadcast_arrays(time, age, *lives)
    rows = np.stack([time, age, *lives], axis=-1).reshape(-1, 6)
    found = np.empty(rows.shape[0])
    at_once = max(_NUMBERS_AT_ONCE // (2 * steps), 1)
    for start in range(0, rows.shape[0], at_once):
        part = rows[start : start + at_once]
        coarse, fine = _at_the_end(part, steps), _at_the_end(part, 2 * steps)
        order = np.minimum(2.0, 1.0 + np.minimum(part[:, 3], part[:, 5]))
        found[start : start + at_once] = fine + (fine - coarse) / (2**order - 1)
    return found.reshape(time.shape)


def renewals_of_many_lives(time, scale, shape, first_scale, first_shape):
    """Expected failures of Weibull pieces by a time, however many lives that is, at the steps that each needs.

    Up to 40 mean lives by :func:`weibull_renewals`, with more steps the more lives; beyond that by the asymptote of the
    renewal function. Made for long lists of pieces of which most hardly ever fail.

    Parameters
    ----------
    time, scale, shape, first_scale, first_shape : array_like of float
        As for :func:`weibull_renewals`; they broadcast.

    Returns
    -------
    ndarray of float
        To about 1e-4 of a failure below two lives, 1e-3 of all failures above.

    Raises
    ------
    InvalidParameter
        As for :func:`weibull_renewals`.

    References
    ----------
    Asymptote of a delayed renewal process: Cox (1962), Renewal Theory, section 4.2.

    Examples
    --------
    >>> renewals_of_many_lives([1.0, 100.0], 1.0, 1.0, 1.0, 1.0).round(3)
    array([  1., 100.])
    """
    given = (time, scale, shape, first_scale, first_shape)
    arrays = np.broadcast_arrays(*(np.asarray(each, dtype=float) for each in given))
    time, scale, shape, first_scale, first_shape = (each.ravel() for each in arrays)
    mean, sd = mean_and_sd(scale, shape)
    lives = time / np.minimum(mean, scale)
    found = (time - mean_and_sd(first_scale, first_shape)[0]) / mean + (1 + (sd / mean) ** 2) / 2
    found = np.maximum(found, 1 - survival(time, first_scale, first_shape))
    low = 0.0
    for most, steps in _STEPS_BY_LIVES:
        here = (lives >= low) & (lives < most)
        if here.any():
            found[here] = weibull_renewals(*(each.ravel()[here] for each in arrays), steps=steps)
        low = most
    return found.reshape(arrays[0].shape)


def _at_the_end(rows, steps):
    time, age, scale, shape, first_scale, first_shape = rows.T[..., None]
    end = time * np.arange(1, steps + 1) / steps
    middle = time * (np.arange(steps) + 0.5) / steps
    first_share = 1 - survival(end, first_scale, first_shape, age)
    return expected_failures(first_share, survival(middle, scale, shape))[..., -1]


def _reciprocal(series):
    """Power series 1 / series by Newton's iteration, doubling the terms that are right each time."""
    inverse, n_terms = 1 / series[..., :1], series.shape[-1]
    while (done := inverse.shape[-1]) < n_terms:
        wanted = min(2 * done, n_terms)
        size = next_fast_len(wanted + 2 * done, real=True)
        seen = rfft(inverse, size)
        product = irfft(2 * seen - rfft(series[..., :wanted], size) * seen**2, size)
        inverse = product[..., :wanted]
    return inverse
