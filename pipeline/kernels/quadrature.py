"""Gauss rules for a Beta-distributed share, many distributions at once."""

import numpy as np
from scipy.linalg import lapack

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import same_length

MANY_NODES = 25  # beyond, eigh works in blocks and its threads fight over small matrices: one row at a time is faster


def beta_nodes(alpha, beta, n_nodes):
    """Points and weights that average any smooth function over Beta distributions.

    ``(weight * f(node)).sum(axis=-1)`` is the mean of ``f(theta)``, theta ~ Beta(alpha, beta); exact where
    ``f`` is a polynomial of degree below ``2 * n_nodes``.

    Parameters
    ----------
    alpha, beta : array_like of float, shape (n_rows,)
        Parameters of each Beta distribution, more than 0.
    n_nodes : int
        Points per distribution, at least 1.

    Returns
    -------
    node, weight : ndarray of float, shape (n_rows, n_nodes)
        Nodes rise within (0, 1); weights sum to 1.

    Raises
    ------
    InvalidParameter
        If a parameter is not more than 0, lengths differ, or ``n_nodes`` is below 1.

    Notes
    -----
    Gauss-Jacobi rule from the eigenvalues of the recurrence matrix, all rows in one call.

    References
    ----------
    Golub & Welsch (1969), Mathematics of Computation 23, 221-230.

    Examples
    --------
    >>> node, weight = beta_nodes([3.0], [2.0], 4)
    >>> [round(float((weight * node**k).sum()), 6) for k in (1, 2)]  # E = 3/5, E squared = 3*4/(5*6)
    [0.6, 0.4]
    """
    alpha, beta = same_length(alpha=alpha, beta=beta)
    alpha, beta = require.positive("alpha", alpha), require.positive("beta", beta)
    if n_nodes < 1:
        raise InvalidParameter(f"n_nodes is {n_nodes}; wanted at least 1.")
    node, vector = _eigen(*_recurrence(alpha[:, None], beta[:, None], n_nodes))
    weight = vector**2
    return np.clip((1 + node) / 2, 0, 1), weight / weight.sum(axis=1, keepdims=True)


def odds_nodes(alpha, beta, n_nodes):
    """Points and weights that average a function of the odds (1 - p) / p over p ~ Beta(alpha, beta).

    Parameters
    ----------
    alpha, beta : array_like of float, shape (n_rows,)
        ``alpha`` more than 2, so that mean and variance of the odds exist; ``beta`` more than 0.
    n_nodes : int
        Points per distribution, at least 2.

    Returns
    -------
    odds, weight : ndarray of float, shape (n_rows, n_nodes)
        Weights sum to 1; mean and variance of the odds are exact, which a rule in ``p`` would miss.

    Raises
    ------
    InvalidParameter
        If ``alpha`` is 2 or less, or as for :func:`beta_nodes`.

    Examples
    --------
    >>> odds, weight = odds_nodes([3.0], [10.0], 3)
    >>> [round(float((weight * odds**k).sum()), 6) for k in (1, 2)]  # 10/2 and 10*11/(2*1)
    [5.0, 55.0]
    """
    alpha, beta = same_length(alpha=alpha, beta=beta)
    shifted = require.positive("alpha - 2", np.asarray(alpha, dtype=float) - 2)
    node, weight = beta_nodes(shifted, beta, n_nodes)
    # The squared node turns the odds and their square into polynomials, which the rule takes exactly.
    total = alpha + beta
    ratio = (total - 1) * (total - 2) / ((alpha - 1) * (alpha - 2))  # of the two rules' normalising constants
    node = np.maximum(node, 1e-9)
    return (1 - node) / node, weight * node**2 * ratio[:, None]


def _eigen(diagonal, off):
    """Eigenvalues of tridiagonal matrices, and the first element of each eigenvector: two (n_rows, n_nodes)."""
    n_rows, n_nodes = diagonal.shape
    if n_nodes > MANY_NODES:
        pairs = [lapack.dstev(*row)[:2] for row in zip(diagonal, off, strict=True)]
        return tuple(np.array(found).reshape(n_rows, n_nodes) for found in
                     ([value for value, _ in pairs], [vector[0] for _, vector in pairs]))
    matrix = np.zeros((n_rows, n_nodes, n_nodes))
    here = np.arange(n_nodes)
    matrix[:, here, here] = diagonal
    matrix[:, here[1:], here[:-1]] = off  # eigh reads the lower triangle only
    node, vector = np.linalg.eigh(matrix)
    return node, vector[:, 0, :]


def _recurrence(alpha, beta, n_nodes):
    """Diagonal and off-diagonal of the Jacobi matrix on [-1, 1], weight (1-t)^(beta-1) (1+t)^(alpha-1)."""
    a, b = beta - 1, alpha - 1  # the usual names of the two exponents
    n = np.arange(1, n_nodes)
    twice = 2 * n + a + b
    first = (b - a) / (a + b + 2)
    # (b - a)(b + a) rather than b*b - a*a: large parameters would lose all digits.
    diagonal = np.concatenate([first, (b - a) * (b + a) / (twice * (twice + 2))], axis=1)
    m = n[1:]
    twice = 2 * m + a + b
    square = 4 * m * (m + a) * (m + b) * (m + a + b) / (twice**2 * (twice + 1) * (twice - 1))
    # For n = 1 the factor a + b + 1 cancels; leaving it in would divide 0 by 0.
    first_square = 4 * (1 + a) * (1 + b) / ((2 + a + b) ** 2 * (3 + a + b))
    return diagonal, np.sqrt(np.concatenate([first_square, square], axis=1))[:, : n_nodes - 1]
