"""Upper tail of the standard gamma distribution: survival in logs and means beyond a point, never 0 / 0."""

import numpy as np
from scipy.special import digamma, gammaincc, gammaln

FRACTION_DEPTH = 80  # terms of the continued fraction; used only far out, where a dozen suffice
SMALLEST_SHARE = 1e-200  # below this the regularised function loses digits and the fraction takes over
SHAPE_STEP = 1e-4  # relative step of the fourth-order difference in the shape


def log_survival(shape, x):
    """Logarithm of the chance that a gamma variable of scale 1 exceeds ``x``.

    Parameters
    ----------
    shape, x : array_like of float
        Shape above 0 and point of at least 0; broadcast together.

    Returns
    -------
    ndarray of float
        At most 0; finite however far out.

    References
    ----------
    Abramowitz & Stegun (1964), 6.5.31 (continued fraction for the incomplete gamma function).

    Examples
    --------
    >>> log_survival(1.0, np.array([2.0, 900.0])).round(9)
    array([  -2., -900.])
    """
    shape, x = np.broadcast_arrays(np.asarray(shape, dtype=float), np.asarray(x, dtype=float))
    share = gammaincc(shape, x)
    is_far = share < SMALLEST_SHARE
    far = np.where(is_far, x, shape + 1.0)  # any safe point where the fraction is not wanted
    by_fraction = shape * np.log(far) - far - gammaln(shape) + np.log(_fraction(shape, far))
    return np.where(is_far, by_fraction, np.log(np.where(is_far, 1.0, share)))


def log_density(shape, x):
    """Logarithm of the density of log(X) for a gamma variable X of scale 1: that of X, times ``x``.

    Parameters
    ----------
    shape, x : array_like of float
        Shape and point, both above 0.

    Returns
    -------
    ndarray of float

    Examples
    --------
    >>> log_density(1.0, 2.0).round(9)
    np.float64(-1.306852819)
    """
    return shape * np.log(x) - x - gammaln(shape)


def mean_beyond(shape, x):
    """Mean of a gamma variable of scale 1, given that it exceeds ``x``.

    Parameters
    ----------
    shape, x : array_like of float
        Shape above 0 and point above 0.

    Returns
    -------
    ndarray of float
        Above ``x`` and at least ``shape``.

    References
    ----------
    Johnson, Kotz & Balakrishnan (1994), Continuous Univariate Distributions 1, chapter 17: shape plus
    x times the hazard at x.

    Examples
    --------
    >>> mean_beyond(1.0, 3.0).round(9)
    np.float64(4.0)
    """
    return shape + np.exp(log_density(shape, x) - log_survival(shape, x))


def mean_log_beyond(shape, x):
    """Mean logarithm of a gamma variable of scale 1, given that it exceeds ``x``.

    Parameters
    ----------
    shape, x : array_like of float
        Shape above 0 and point above 0.

    Returns
    -------
    ndarray of float
        Above log(x).

    Notes
    -----
    The derivative in the shape of the logarithm of the upper incomplete gamma function, by a fourth-order
    difference: about ten digits.

    Examples
    --------
    >>> mean_log_beyond(1.0, np.array([1e-12, 50.0])).round(6)
    array([-0.577216,  3.931638])
    """
    shape = np.asarray(shape, dtype=float)
    step = SHAPE_STEP * shape
    near = log_survival(shape + step, x) - log_survival(shape - step, x)
    wide = log_survival(shape + 2 * step, x) - log_survival(shape - 2 * step, x)
    return digamma(shape) + (8 * near - wide) / (12 * step)


def _fraction(shape, x):
    """Upper incomplete gamma function over x^shape e^-x, by backward evaluation of its continued fraction."""
    value = np.zeros(np.broadcast(shape, x).shape)
    for n in range(FRACTION_DEPTH, 0, -1):
        value = n * (shape - n) / (x + 2 * n + 1 - shape + value)
    return 1 / (x + 1 - shape + value)
