"""Whether a job finds every part it needs: the classic repair kit, and shares of jobs over draws of the shelf."""

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require


def best_kit(need_shares, holding, penalty):
    """Parts to carry so that holding them and leaving jobs unfinished cost least, each needed independently.

    Parameters
    ----------
    need_shares : array_like of float, shape (n_parts,)
        Chance that a job needs the part, 0 to 1.
    holding : array_like of float, shape (n_parts,)
        Cost of carrying the part, money per job.
    penalty : float
        Cost of a job left unfinished for want of a part, money.

    Returns
    -------
    is_carried : ndarray of bool, shape (n_parts,)
    cost : float
        Holding of the kit plus penalty times the share of unfinished jobs, money per job.
    ready_share : float
        Share of jobs the kit completes.

    Raises
    ------
    InvalidParameter
        If a share is outside [0, 1], a cost is negative or the lengths differ.

    Notes
    -----
    The best kit is a run of parts in rising order of holding over need share, so n + 1 kits are compared. This holds
    only for a kit that is refilled after every job, single pieces and independent needs: a test case here, not the
    shelf.

    References
    ----------
    Smith, Chambers & Shlifer (1980), Management Science 26, 232-237; Mamer & Smith (1982), Management Science 28,
    1328-1333.

    Examples
    --------
    >>> is_carried, cost, ready_share = best_kit([0.30, 0.20, 0.05], [0.5, 0.4, 0.5], 6.0)
    >>> is_carried, round(cost, 9), ready_share
    (array([ True,  True, False]), 1.2, 0.95)
    """
    need = np.atleast_1d(require.share("need_shares", need_shares))
    holding = np.atleast_1d(require.not_negative("holding", holding))
    penalty = require.not_negative("penalty", penalty)
    if need.shape != holding.shape:
        raise InvalidParameter(f"holding has {holding.size} values, need_shares {need.size}; wanted one each.")
    order = np.argsort(np.divide(holding, need, out=np.full(need.shape, np.inf), where=need > 0), kind="stable")
    carried = np.concatenate([[0.0], np.cumsum(holding[order])])
    ready = np.concatenate([np.cumprod((1 - need)[order][::-1])[::-1], [1.0]])
    cost = carried + penalty * (1 - ready)
    best = int(np.argmin(cost))
    is_carried = np.zeros(need.shape, dtype=bool)
    is_carried[order[:best]] = True
    return is_carried, float(cost[best]), float(ready[best])


def independent_ready_share(stock_pcs, need_pmfs):
    """Share of jobs completed from given stocks where needs are independent: the product over parts.

    Parameters
    ----------
    stock_pcs : array_like of int, shape (n_parts,)
        Pieces on the shelf.
    need_pmfs : array_like of float, shape (n_parts, n_values)
        Probability that one job needs 0, 1, 2, ... pieces.

    Returns
    -------
    float
        Share of jobs. Needs of real jobs go together, so this is wrong for a shelf; see :func:`ready_jobs`.

    Raises
    ------
    InvalidParameter
        If a stock is negative or probabilities do not sum to 1.

    Examples
    --------
    >>> round(independent_ready_share([1, 0], [[0.5, 0.4, 0.1], [0.9, 0.1, 0.0]]), 12)
    0.81
    """
    need_pmfs = require.pmf("need_pmfs", need_pmfs)
    stock = require.not_negative("stock_pcs", stock_pcs).astype(int)
    at_most = np.cumsum(need_pmfs, axis=1)
    met = at_most[np.arange(len(stock)), np.minimum(stock, need_pmfs.shape[1] - 1)]
    return float(np.prod(met))


def piece_fill_shares(stock_pcs, need_pmfs):
    """Share of needed pieces met from the shelf, per part and pooled, for one job at a time.

    Parameters
    ----------
    stock_pcs : array_like of int, shape (n_parts,)
        Pieces on the shelf.
    need_pmfs : array_like of float, shape (n_parts, n_values)
        Probability that one job needs 0, 1, 2, ... pieces.

    Returns
    -------
    shares : ndarray of float, shape (n_parts,)
        Expected pieces met over expected pieces needed; ``nan`` for a part never needed.
    pooled_share : float
        The same over all parts together.

    Raises
    ------
    InvalidParameter
        If a stock is negative or probabilities do not sum to 1.

    Examples
    --------
    >>> piece_fill_shares([1], [[0.5, 0.25, 0.25]])
    (array([0.66666667]), 0.6666666666666666)
    """
    need_pmfs = require.pmf("need_pmfs", need_pmfs)
    stock = require.not_negative("stock_pcs", stock_pcs)
    pieces = np.arange(need_pmfs.shape[1])
    needed = need_pmfs @ pieces
    met = (need_pmfs * np.minimum(pieces, stock[:, None])).sum(axis=1)
    shares = np.divide(met, needed, out=np.full(needed.shape, np.nan), where=needed > 0)
    return shares, float(met.sum() / needed.sum())


def ready_jobs(shelf_pcs, need_pcs):
    """Whether each job finds every part it needs, in the pieces it needs, for every draw of the shelf.

    Parameters
    ----------
    shelf_pcs : array_like of int, shape (n_draws, n_parts)
        Pieces on the shelf, one row per draw; negative where pieces are owed to earlier jobs.
    need_pcs : array_like of int, shape (n_jobs, n_parts)
        Pieces each job needs; 0 where it needs none.

    Returns
    -------
    ndarray of bool, shape (n_draws, n_jobs)
        Its mean over draws and jobs is the job-ready share. Whole jobs against whole shelves: what goes together
        stays together, which a product of item rates loses.

    Raises
    ------
    InvalidParameter
        If the parts differ in number.

    Examples
    --------
    >>> ready_jobs([[2, 0], [0, 1]], [[1, 0], [0, 1], [2, 1]])
    array([[ True, False, False],
           [False,  True, False]])
    """
    shelf, need = _same_parts(shelf_pcs, need_pcs)
    ready = np.ones((len(shelf), len(need)), dtype=bool)
    for part in np.flatnonzero((need > 0).any(axis=0)):
        jobs = np.flatnonzero(need[:, part] > 0)
        ready[:, jobs] &= shelf[:, part, None] >= need[jobs, part]
    return ready


def stalls_by_part(shelf_pcs, need_pcs, job_weight=None):
    """Share of jobs that each part stalls, and that it alone stalls, over draws of the shelf.

    Parameters
    ----------
    shelf_pcs : array_like of int, shape (n_draws, n_parts)
        Pieces on the shelf, one row per draw.
    need_pcs : array_like of int, shape (n_jobs, n_parts)
        Pieces each job needs.
    job_weight : array_like of float, shape (n_jobs,), optional
        How likely a job is to turn out like each; default all alike.

    Returns
    -------
    stalls_share, alone_share : ndarray of float, shape (n_parts,)
        Share of jobs and draws in which the part is short, and in which it is the only one short: what stocking it at
        last would mend.

    Raises
    ------
    InvalidParameter
        If the parts differ in number, or weights and jobs do.

    Examples
    --------
    >>> stalls_by_part([[0, 0]], [[1, 0], [1, 1]])
    (array([1. , 0.5]), array([0.5, 0. ]))
    """
    shelf, need = _same_parts(shelf_pcs, need_pcs)
    weight = np.ones(len(need)) if job_weight is None else require.not_negative("job_weight", job_weight)
    if weight.shape != (len(need),):
        raise InvalidParameter(f"job_weight has shape {weight.shape}; wanted one weight for each of {len(need)} jobs.")
    wanted = [(part, np.flatnonzero(need[:, part] > 0)) for part in np.flatnonzero((need > 0).any(axis=0))]
    short_parts = np.zeros((len(shelf), len(need)), dtype=np.int32)
    for part, jobs in wanted:
        short_parts[:, jobs] += shelf[:, part, None] < need[jobs, part]
    stalls, alone = np.zeros(need.shape[1]), np.zeros(need.shape[1])
    for part, jobs in wanted:
        is_short = shelf[:, part, None] < need[jobs, part]
        stalls[part] = is_short.mean(axis=0) @ weight[jobs]
        alone[part] = (is_short & (short_parts[:, jobs] == 1)).mean(axis=0) @ weight[jobs]
    return stalls / weight.sum(), alone / weight.sum()


def _same_parts(shelf_pcs, need_pcs):
    shelf, need = np.atleast_2d(np.asarray(shelf_pcs)), np.atleast_2d(np.asarray(need_pcs))
    if shelf.shape[1] != need.shape[1]:
        raise InvalidParameter(
            f"shelf_pcs has {shelf.shape[1]} parts, need_pcs {need.shape[1]}; wanted the same parts in both."
        )
    return shelf, need
