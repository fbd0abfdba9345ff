"""Argument checks shared by the kernels: each refusal names the argument, the value and what was wanted."""

import numpy as np

from pipeline.errors import InvalidParameter

PMF_SUM_TOLERANCE = 1e-6  # probabilities further from 1 than this are refused, nearer ones are rescaled


def positive(name, values):
    """Return ``values`` as floats, refusing any that is zero, negative, infinite or missing.

    Parameters
    ----------
    name : str
        Argument name for the message.
    values : array_like of float
        Any shape, any unit.

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    InvalidParameter
        If a value is not a finite number above 0.

    Examples
    --------
    >>> positive("demand", [1, 2])
    array([1., 2.])
    """
    array = np.asarray(values, dtype=float)
    return _unless(name, array, ~(np.isfinite(array) & (array > 0)), "a finite number above 0")


def not_negative(name, values):
    """Return ``values`` as floats, refusing any that is negative, infinite or missing.

    Parameters
    ----------
    name : str
        Argument name for the message.
    values : array_like of float
        Any shape, any unit.

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    InvalidParameter
        If a value is not a finite number of at least 0.
    """
    array = np.asarray(values, dtype=float)
    return _unless(name, array, ~(np.isfinite(array) & (array >= 0)), "a finite number of at least 0")


def whole_positive(name, values):
    """Return ``values`` as integers, refusing any that is not a whole number of at least 1.

    Parameters
    ----------
    name : str
        Argument name for the message.
    values : array_like of float
        Any shape, pieces or packs.

    Returns
    -------
    ndarray of int
        Same shape.

    Raises
    ------
    InvalidParameter
        If a value is below 1 or not whole.
    """
    array = np.asarray(values, dtype=float)
    wrong = ~(np.isfinite(array) & (array >= 1) & (array == np.floor(array)))
    return _unless(name, array, wrong, "a whole number of at least 1").astype(np.int64)


def share(name, values):
    """Return ``values`` as floats, refusing any outside 0 to 1.

    Parameters
    ----------
    name : str
        Argument name for the message.
    values : array_like of float
        Any shape; shares, never percent.

    Returns
    -------
    ndarray of float
        Same shape.

    Raises
    ------
    InvalidParameter
        If a value is outside [0, 1]; one that looks like percent is said to.
    """
    array = np.asarray(values, dtype=float)
    wrong = ~((array >= 0) & (array <= 1))
    if wrong.any() and 1 < array[wrong].flat[0] <= 100:
        value = array[wrong].flat[0]
        raise InvalidParameter(
            f"{name} is {value:g}; wanted a share between 0 and 1. Did you mean {value / 100:g}?"
        )
    return _unless(name, array, wrong, "a share between 0 and 1")


def pmf(name, values):
    """Return probabilities of 0, 1, 2, ... along the last axis, rescaled to sum to exactly 1.

    Parameters
    ----------
    name : str
        Argument name for the message.
    values : array_like of float, shape (..., n_values)
        Probability of each whole number from 0.

    Returns
    -------
    ndarray of float, shape (..., n_values)
        The same, each row summing to 1.

    Raises
    ------
    InvalidParameter
        If a probability is negative or missing, or a row sums to something else than 1 by more than 1e-6: a
        distribution cut short would understate every shortage.
    """
    array = np.atleast_1d(np.asarray(values, dtype=float))
    _unless(name, array, ~(array >= 0), "probabilities of at least 0")
    total = array.sum(axis=-1, keepdims=True)
    _unless(f"sum of {name}", total, np.abs(total - 1) > PMF_SUM_TOLERANCE, "1 (lengthen the grid of values)")
    return array / total


def _unless(name, array, wrong, wanted):
    if not wrong.any():
        return array
    where = f" at position {np.argwhere(wrong)[0].tolist()}" if array.ndim else ""
    raise InvalidParameter(f"{name} is {array[wrong].flat[0]:g}{where}; wanted {wanted}.")
