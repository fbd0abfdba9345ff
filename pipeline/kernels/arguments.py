"""Arrays a kernel is handed: of one length, whole numbers, group numbers."""

import numpy as np

from pipeline.errors import InvalidParameter


def same_length(**arrays):
    """Return the arrays, one-dimensional and of one length.

    Parameters
    ----------
    **arrays : array_like, shape (n,)
        Arguments by name; the first sets the length.

    Returns
    -------
    tuple of ndarray, shape (n,)
        In the order given.

    Raises
    ------
    InvalidParameter
        If one is not one-dimensional or differs in length.

    Examples
    --------
    >>> same_length(days=[1, 2], pieces=[3, 4])
    (array([1, 2]), array([3, 4]))
    """
    made = {name: np.asarray(values) for name, values in arrays.items()}
    first = next(iter(made))
    for name, values in made.items():
        if values.ndim != 1:
            raise InvalidParameter(f"{name} has {values.ndim} dimensions; wanted one row of values.")
        if values.shape != made[first].shape:
            raise InvalidParameter(
                f"{name} has {values.size} values, {first} has {made[first].size}; wanted one each."
            )
    return tuple(made.values())


def whole(name, values, low=None):
    """Return ``values`` as 64-bit whole numbers.

    Parameters
    ----------
    name : str
        The argument's name, for the message.
    values : array_like
        Any shape; floats are taken where they are whole.
    low : int, optional
        Smallest value allowed.

    Returns
    -------
    ndarray of int64
        The values, same shape.

    Raises
    ------
    InvalidParameter
        If a value is not a whole number or below ``low``.

    Examples
    --------
    >>> whole("qty_pcs", [1.0, 2.0])
    array([1, 2])
    """
    values = np.asarray(values)
    if values.dtype.kind not in "iu":
        as_float = np.asarray(values, dtype=float)
        is_wrong = ~((as_float == np.floor(as_float)) & (np.abs(as_float) < 2.0**53))
        if is_wrong.any():
            found = as_float[is_wrong].flat[0]
            raise InvalidParameter(f"{name} holds {found:g}; wanted whole numbers.")
    values = values.astype(np.int64)
    if low is not None and (values < low).any():
        raise InvalidParameter(f"{name} holds {values.min()}; wanted whole numbers of at least {low}.")
    return values


def group_index(group, size, n_groups=None):
    """Return a group number for each row, and how many groups there are.

    Parameters
    ----------
    group : array_like of int, shape (size,), or None
        Group numbers from 0; None puts every row in group 0.
    size : int
        Number of rows.
    n_groups : int, optional
        Number of groups, counting groups without a row; default the largest number + 1.

    Returns
    -------
    group : ndarray of int64, shape (size,)
    n_groups : int

    Raises
    ------
    InvalidParameter
        If lengths differ or a number lies outside 0 to ``n_groups`` - 1.

    Examples
    --------
    >>> group_index([0, 2], 2)
    (array([0, 2]), 3)
    """
    if group is None:
        return np.zeros(size, dtype=np.int64), n_groups or 1
    group = whole("group", group, low=0)
    if group.shape != (size,):
        raise InvalidParameter(f"group has {group.size} values for {size} rows; wanted one each.")
    seen = int(group.max()) + 1 if size else 0
    if n_groups is not None and seen > n_groups:
        raise InvalidParameter(f"group holds {seen - 1}; wanted numbers from 0 to {n_groups - 1}.")
    return group, n_groups if n_groups is not None else seen
