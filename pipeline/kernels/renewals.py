"""How often a falling stock level is passed: renewal numbers of a demand, for many items at once."""

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft

from pipeline.kernels import require


def renewal_numbers(period_pmf, n_values):
    """Expected periods in which total demand since a start is exactly 0, 1, 2, ... pieces.

    Parameters
    ----------
    period_pmf : array_like of float, shape (n_items, n_sizes)
        Probability of a demand of 0, 1, 2, ... pieces in one period; that of 0 below 1.
    n_values : int
        How many numbers to return.

    Returns
    -------
    ndarray of float, shape (n_items, n_values)
        ``m[i, j]``, the coefficients of 1 / (1 - P(z)) for the generating function P of the demand.

    Raises
    ------
    InvalidParameter
        If an item never has any demand, or its probabilities do not sum to 1.

    References
    ----------
    Zheng & Federgruen (1991), Operations Research 39, 654-665, equation for m(j). Computed here by doubling
    (Newton's iteration on power series; Knuth, The Art of Computer Programming 2, section 4.7), which needs
    log2(n_values) transforms in place of n_values sums.

    Examples
    --------
    >>> renewal_numbers([[0.5, 0.5]], 4)
    array([[2., 2., 2., 2.]])
    """
    pmf = require.pmf("period_pmf", period_pmf)
    denominator = np.zeros((len(pmf), n_values))
    kept = min(n_values, pmf.shape[1])
    denominator[:, :kept] = -pmf[:, :kept]
    # 1 - p(0) as a sum of the others: no digits lost when demand is rare
    denominator[:, 0] = require.positive("chance of any demand in a period", pmf[:, 1:].sum(axis=1))
    numbers = 1 / denominator[:, :1]
    while numbers.shape[1] < n_values:
        size = min(2 * numbers.shape[1], n_values)
        excess = convolve(denominator[:, :size], numbers, size)
        excess[:, : numbers.shape[1]] = 0.0  # exactly 1, 0, 0, ... there by construction
        correction = convolve(excess, numbers, size)
        numbers = np.concatenate([numbers, -correction[:, numbers.shape[1]:]], axis=1)
    return np.maximum(numbers, 0.0)


def convolve(first, second, n_values):
    """First ``n_values`` terms of the row-by-row product of two power series.

    Parameters
    ----------
    first, second : ndarray of float, shape (n_items, any)
        Coefficients by rising power.
    n_values : int
        Terms to keep.

    Returns
    -------
    ndarray of float, shape (n_items, n_values)
        Product, by fast Fourier transform on a grid long enough that nothing wraps.

    Examples
    --------
    >>> convolve(np.array([[1.0, 1.0]]), np.array([[1.0, 2.0]]), 3).round(12)
    array([[1., 3., 2.]])
    """
    length = next_fast_len(first.shape[1] + second.shape[1] - 1, real=True)
    length = max(length, n_values)
    return irfft(rfft(first, length, axis=1) * rfft(second, length, axis=1), length, axis=1)[:, :n_values]
