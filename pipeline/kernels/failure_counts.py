"""How many times a piece fails within a horizon, each failed piece replaced by a new one: the whole distribution."""

import numpy as np
from scipy.fft import rfft

from pipeline.kernels import require

_NUMBERS_AT_ONCE = 2**18  # keeps a long list of pieces in a few megabytes
_WRAP = 1e-10  # what the far end of a series may leak into its near end; rounding costs its root


def failure_counts(time, scale, shape, first_scale=None, first_shape=None, n_max=5, steps=256):
    """Chance of 0, 1, ... n_max or more failures of a Weibull piece by a time.

    At least k failures are a first life and k - 1 later lives that together end within the time. Later lives
    are rounded to whole steps, the first is not: the mid-point rule of
    :func:`pipeline.kernels.renewal_function.expected_failures`, one convolution for each life. All of them are
    products of one pair of transforms.

    Parameters
    ----------
    time : array_like of float
        Horizon, at least 0.
    scale, shape : array_like of float
        Life of a new piece.
    first_scale, first_shape : array_like of float, optional
        Life, counted from now, of the piece that is in place (a kept one, say); default as new.
    n_max : int
        The last cell is this number of failures or more; at least 1.
    steps : int
        Steps of time; the answer is extrapolated from this number and twice it. 256 gives 1e-6 for shapes of 1
        to 5 up to six lives (2e-6 up to ten, and so for shapes of 0.5 to 1); 16 gives 1e-4 up to three lives,
        32 up to six.

    Returns
    -------
    ndarray of float, shape (..., n_max + 1)
        Broadcast shape of the arguments, then the number of failures. Sums to 1; the chance of no failure is
        the survival of the first life, without error.

    Raises
    ------
    InvalidParameter
        If a time is negative, a scale or shape is not above 0, or ``n_max`` or ``steps`` is not a whole number
        of at least 1.

    References
    ----------
    Number of renewals and sums of lives: Cox (1962), Renewal Theory, section 3. Mid-point rule: Xie (1989),
    Communications in Statistics - Simulation and Computation 18, 281-293; extrapolation: Richardson (1911).
    Damping against the wrap of a transform: Abate & Whitt (1992), Operations Research Letters 12, 245-251.

    Examples
    --------
    Lives of no memory, one failure each unit of time on average, are Poisson:

    >>> failure_counts(1.0, 1.0, 1.0, n_max=2).round(6)
    array([0.367879, 0.367879, 0.264241])
    """
    time = require.not_negative("time", time)
    lives = {
        "scale": scale,
        "shape": shape,
        "first_scale": scale if first_scale is None else first_scale,
        "first_shape": shape if first_shape is None else first_shape,
    }
    lives = [require.positive(name, values) for name, values in lives.items()]
    n_max, steps = (int(require.whole_positive(*one)) for one in (("n_max", n_max), ("steps", steps)))
    time, *lives = np.broadcast_arrays(time, *lives)
    rows = np.stack([time, *lives], axis=-1).reshape(-1, 5)
    at_least = np.empty((rows.shape[0], n_max))
    at_once = max(_NUMBERS_AT_ONCE // (2 * steps), 1)
    for start in range(0, rows.shape[0], at_once):
        part = rows[start : start + at_once]
        at_least[start : start + at_once] = _extrapolated(part, n_max, steps)
    return _cells(at_least).reshape(*time.shape, n_max + 1)


def _extrapolated(rows, n_max, steps):
    """Chance of at least 1, 2, ... n_max failures; shape (n_rows, n_max)."""
    coarse, fine = _at_least(rows, n_max, steps), _at_least(rows, n_max, 2 * steps)
    order = np.minimum(2.0, 1.0 + np.minimum(rows[:, 2], rows[:, 4]))[:, None]
    return fine + (fine - coarse) / (2**order - 1)


def _at_least(rows, n_max, steps):
    time, scale, shape, first_scale, first_shape = rows.T[..., None]
    with np.errstate(divide="ignore"):  # nothing fails in no time
        lives, first_lives = np.log(time / scale), np.log(time / first_scale)
    first = _failed(first_lives, first_shape, np.arange(1, steps + 1) / steps)
    found = np.empty((rows.shape[0], n_max))
    found[:, 0] = first[:, -1]
    if n_max > 1:
        later = _failed(lives, shape, (np.arange(steps) + 0.5) / steps)
        later[:, 1:] -= later[:, :-1].copy()
        found[:, 1:] = _last_of_products(first, later, n_max - 1)
    return found


def _failed(log_lives, shape, share_of_time):
    """Share of lives ended by each share of the time, in logarithms so that no power overflows."""
    cumulative = np.exp(np.minimum(shape * (log_lives + np.log(share_of_time)), 700.0))
    return -np.expm1(-cumulative)


def _last_of_products(first, later, n_products):
    """Term n - 1 of the power series first x later, first x later^2, ...; shape (n_rows, n_products).

    On a circle of 2n terms that term is the alternating sum of the transform. Terms are damped, so that what
    lies beyond the circle comes back all but gone.
    """
    n_terms = first.shape[-1]
    damping = _WRAP ** (np.arange(n_terms) / (2 * n_terms))
    product, factor = (rfft(series * damping, 2 * n_terms) for series in (first, later))
    frequency = np.arange(n_terms + 1)
    turn = np.exp(1j * np.pi * frequency * (n_terms - 1) / n_terms)
    weight = turn * np.where((frequency == 0) | (frequency == n_terms), 1.0, 2.0) / (2 * n_terms) / damping[-1]
    found = np.empty((first.shape[0], n_products))
    for one in range(n_products):
        product *= factor
        found[:, one] = (product @ weight).real
    return found


def _cells(at_least):
    at_least = np.minimum.accumulate(np.clip(at_least, 0.0, 1.0), axis=-1)
    edges = np.concatenate([np.ones_like(at_least[:, :1]), at_least], axis=-1)
    return np.concatenate([edges[:, :-1] - edges[:, 1:], at_least[:, -1:]], axis=-1)
