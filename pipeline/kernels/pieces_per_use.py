"""Pieces taken by a job that uses a part: one, and a negative binomial number more, shrunk by pseudo-counts."""

import numpy as np
from scipy.special import betainc, betaln

from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length

LEAST_SIZE, MOST_SIZE = 0.5, 200.0
SIZE_PRIOR_USES = 4.0  # uses that the all-part dispersion is worth to one part
PSEUDO_USES_GRID = np.geomspace(0.25, 64, 33)


def typical_extra(extra, uses, part, stratum):
    """Extra pieces per use that a part of each stratum typically takes, every part counting once.

    Parameters
    ----------
    extra, uses : array_like of float, shape (n,)
        Pieces beyond the first, summed over the uses, and the uses.
    part, stratum : array_like of int, shape (n,)
        Part and stratum of each row, from 0.

    Returns
    -------
    ndarray of float, shape (n,)
        Mean on the log(1 + x) scale over the parts of the row's stratum, drawn to that over all parts by one part's
        worth: parts taken by the hundred must not speak for those taken singly.

    Raises
    ------
    InvalidParameter
        If lengths differ or a count is negative.

    Examples
    --------
    >>> typical_extra([0.0, 0.0, 63.0], [1, 1, 1], [0, 1, 2], [0, 0, 0]).round(6)  # log2: 0 0 6
    array([3., 3., 3.])
    """
    extra, uses = same_length(extra=extra, uses=uses)
    extra, uses = require.not_negative("extra", extra), require.not_negative("uses", uses)
    stratum, n_strata = group_index(stratum, extra.size)
    _, each = np.unique(np.stack([group_index(part, extra.size)[0], stratum]), axis=1, return_inverse=True)
    uses_each = np.bincount(each, uses)
    is_used = uses_each > 0
    log_mean = np.log1p(np.bincount(each, extra)[is_used] / uses_each[is_used])
    of_stratum = np.zeros(uses_each.size, dtype=np.int64)
    of_stratum[each] = stratum
    overall = log_mean.mean() if log_mean.size else 0.0
    total = np.bincount(of_stratum[is_used], log_mean, n_strata)
    return np.expm1((total + overall) / (np.bincount(of_stratum[is_used], minlength=n_strata) + 1))[stratum]


def nested_mean(total, count, start, *pools, pseudo_count=1.0):
    """Mean of the other rows, from the widest pool to the closest, each shrunk to the one before.

    Parameters
    ----------
    total, count : array_like of float, shape (n,)
        Sum and number of observations of each row.
    start : array_like of float, shape (n,)
        What is expected of each row before any pool is asked.
    *pools : array_like of int, shape (n,)
        Pool of each row, from the widest grouping to the closest.
    pseudo_count : float
        Observations that the wider mean is worth, more than 0.

    Returns
    -------
    ndarray of float, shape (n,)
        A mean for each row that leaves the row itself out.

    Raises
    ------
    InvalidParameter
        If lengths differ or a count is negative.

    Examples
    --------
    >>> nested_mean([2.0, 6.0, 0.0], [2, 2, 0], [1.0, 1.0, 1.0], [0, 0, 0])  # (1+6)/3, (1+2)/3, (1+8)/5
    array([2.33333333, 1.        , 1.8       ])
    """
    total, count, start = same_length(total=total, count=count, start=start)
    total, count = require.not_negative("total", total), require.not_negative("count", count)
    centre = require.not_negative("start", start)
    for pool in pools:
        pool, _ = group_index(pool, total.size)
        other_total = np.maximum(np.bincount(pool, total)[pool] - total, 0)
        other_count = np.maximum(np.bincount(pool, count)[pool] - count, 0)
        centre = (pseudo_count * centre + other_total) / (pseudo_count + other_count)
    return centre


def fit_size(extra, squares, uses, part):
    """Size of the negative binomial of extra pieces, one per part, by moments shrunk to all parts together.

    Parameters
    ----------
    extra, squares : array_like of float, shape (n,)
        Sum of pieces beyond the first over the uses of each cell, and sum of their squares.
    uses : array_like of float, shape (n,)
        Jobs that used the part.
    part : array_like of int, shape (n,)
        Part of each cell, from 0.

    Returns
    -------
    ndarray of float, shape (n_parts,)
        Size r: the variance of the extra pieces is ``m + m * m / r``. Kept within 0.5 to 200; the upper end
        stands for no more spread than a Poisson.

    Raises
    ------
    InvalidParameter
        If lengths differ or a sum is negative.
    """
    extra, squares, uses = (require.not_negative(name, values) for name, values in
                            zip(("extra", "squares", "uses"),
                                same_length(extra=extra, squares=squares, uses=uses), strict=True))
    part, n_parts = group_index(part, extra.size)
    mean = extra / np.maximum(uses, 1)
    freedom = np.maximum(uses - 1, 0)
    excess = squares - uses * mean**2 - freedom * mean  # beyond what a Poisson would show
    scale = np.bincount(part, freedom * mean**2, n_parts)
    excess = np.bincount(part, excess * (uses > 1), n_parts)
    # Each part counts by its uses, not by its pieces: lamps by the hundred would drown the rest.
    mean_square = scale / np.maximum(np.bincount(part, freedom, n_parts), 1)
    typical = np.where(mean_square > 0, mean_square, 1)
    overall = (excess / typical).sum() / max((scale / typical).sum(), 1e-9)
    prior = SIZE_PRIOR_USES * typical
    dispersion = (excess + prior * max(overall, 0)) / (scale + prior)
    return 1 / np.clip(dispersion, 1 / MOST_SIZE, 1 / LEAST_SIZE)


def extra_posterior(extra, uses, centre, size, pseudo_uses):
    """Beta belief about the negative binomial of extra pieces, after the uses have been seen.

    Parameters
    ----------
    extra, uses : array_like of float, shape (n,)
        Pieces beyond the first, summed over the uses, and the uses.
    centre : array_like of float, shape (n,)
        Extra pieces per use expected before.
    size : array_like of float, shape (n,)
        Size r of the negative binomial.
    pseudo_uses : array_like of float, shape (n,)
        Uses that the expectation is worth.

    Returns
    -------
    extra_alpha, extra_beta : ndarray of float, shape (n,)
        Extra pieces are negative binomial(r, p), p ~ Beta. Their mean is the pseudo-count mean
        ``(pseudo_uses * centre + extra) / (pseudo_uses + uses)``; the belief before is never worth less than
        ``2 / r`` uses, so that the variance exists.

    Raises
    ------
    InvalidParameter
        If a value is negative or lengths differ.

    Examples
    --------
    >>> alpha, beta = extra_posterior([6.0], [3.0], [1.0], [2.0], [1.0])
    >>> float(2.0 * beta[0] / (alpha[0] - 1))  # (1*1 + 6) / (1 + 3)
    1.75
    """
    extra, uses, centre, size, pseudo_uses = same_length(
        extra=extra, uses=uses, centre=centre, size=size, pseudo_uses=pseudo_uses)
    size = require.positive("size", size)
    weight = np.maximum(require.not_negative("pseudo_uses", pseudo_uses), 2 / size)
    alpha = (weight + require.not_negative("uses", uses)) * size + 1
    beta = weight * require.not_negative("centre", centre) + require.not_negative("extra", extra)
    return alpha, np.maximum(beta, 1e-9)


def fit_pseudo_uses(extra, uses, centre, size):
    """Pseudo-uses under which every cell's pieces are most likely given the centre from the others.

    Parameters
    ----------
    extra, uses, centre, size : array_like of float, shape (n,)
        As for :func:`extra_posterior`.

    Returns
    -------
    float
        One weight for all cells, from 0.25 to 64 uses.

    Raises
    ------
    InvalidParameter
        If a value is negative or lengths differ.
    """
    score = []
    for pseudo_uses in PSEUDO_USES_GRID:
        zero = np.zeros(np.size(extra))
        alpha, beta = extra_posterior(zero, zero, centre, size, zero + pseudo_uses)
        score.append((betaln(alpha + uses * size, beta + extra) - betaln(alpha, beta)).sum())
    return float(PSEUDO_USES_GRID[int(np.argmax(score))])


def expected_pcs(use):
    """Mean pieces per job, averaged over jobs that use none: the mean of :func:`expected_pcs_interval` alone.

    Parameters
    ----------
    use : pipeline.kernels.compound.UseRows
        Beliefs about use per job, ``n_rows`` of them.

    Returns
    -------
    ndarray of float, shape (n_rows,)
        Pieces.
    """
    return use.alpha / (use.alpha + use.beta) * (use.piece_weight * _pieces_at_nodes(use)).sum(axis=1)


def expected_pcs_interval(use, level=0.8):
    """Mean pieces per job, and the interval that holds it with the level given.

    Parameters
    ----------
    use : pipeline.kernels.compound.UseRows
        Beliefs about use per job, ``n_rows`` of them.
    level : float
        Probability inside, between 0 and 1.

    Returns
    -------
    mean, low, high : ndarray of float, shape (n_rows,)
        Pieces per job, averaged over jobs that use none: doubt about the average, not the spread of jobs.

    Raises
    ------
    InvalidParameter
        If the level lies outside [0, 1] or a belief is not valid.
    """
    outside = (1 - require.share("level", level)) / 2
    pieces = _pieces_at_nodes(use)
    return expected_pcs(use), *(_mixture_quantile(use, pieces, use.piece_weight, p) for p in (outside, 1 - outside))


def _pieces_at_nodes(use):
    """Mean pieces of a job that uses the part, at each node of what is believed about them."""
    return use.pieces @ np.arange(use.pieces.shape[2])


def _mixture_quantile(use, pieces, weight, probability):
    """Quantile of share times pieces by halving, all rows together."""
    low, high = np.zeros(use.alpha.size), pieces.max(axis=1, initial=0)
    for _ in range(32):
        middle = (low + high) / 2
        share = np.minimum(middle[:, None] / pieces, 1)
        below = (weight * betainc(use.alpha[:, None], use.beta[:, None], share)).sum(axis=1)
        low, high = np.where(below < probability, middle, low), np.where(below < probability, high, middle)
    return (low + high) / 2
