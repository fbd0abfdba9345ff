"""Effects of many kinds on rows that also fall into pools: the sums that a regression on them needs, made fast.

A row has few effects, so that everything goes by pairs of effects of one row, found once; what changes from round to
round is only the weights.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from pipeline.kernels.arguments import group_index


@dataclass(frozen=True)
class Effects:
    """Which effects each row has, and its pool.

    Attributes
    ----------
    rows : scipy.sparse.csr_array, shape (n, n_effects)
        Each row's effects.
    kind : ndarray of int, shape (n_effects,)
        Kind of each effect: 0 for slopes, then the factors in their order.
    n_levels : ndarray of int, shape (n_kinds,)
        Effects of each kind.
    pool : ndarray of int, shape (n,)
        Pool of each row, from 0.
    n_pools : int
        Pools.
    row : ndarray of int, shape (n_entries,)
        Row of each entry of ``rows``, in their order.
    place : ndarray of int, shape (n_entries,)
        Where in the pools' entries each entry of ``rows`` belongs.
    pool_start, pool_column : ndarray of int, shapes (n_pools + 1,) and (n_pool_entries,)
        Effects that the rows of each pool have between them, as the pointers of a sparse matrix by rows.
    pairs : scipy.sparse.csr_array, shape (n, n_effects * n_effects)
        Products of two effects of a row, those on and below the diagonal.
    """

    rows: sparse.csr_array
    kind: np.ndarray
    n_levels: np.ndarray
    pool: np.ndarray
    n_pools: int
    row: np.ndarray
    place: np.ndarray
    pool_start: np.ndarray
    pool_column: np.ndarray
    pairs: sparse.csr_array

    @classmethod
    def of(cls, pool, factors, slopes):
        """Lay out the effects.

        Parameters
        ----------
        pool : array_like of int, shape (n,)
            Pool of each row, from 0.
        factors : sequence of array_like of int, shape (n,)
            Level of each row, from 0, in each factor.
        slopes : ndarray of float, shape (n, n_slopes)
            Covariates.

        Returns
        -------
        Effects

        Raises
        ------
        InvalidParameter
            If a pool or factor is not one whole number from 0 a row.
        """
        size = len(slopes)
        groups = [_indicator(*group_index(factor, size)) for factor in factors]
        pool, n_pools = group_index(pool, size)
        n_levels = np.array([slopes.shape[1], *(group.shape[1] for group in groups)])
        rows = sparse.hstack([sparse.csr_array(slopes), *groups], format="csr")
        row = np.repeat(np.arange(size), np.diff(rows.indptr))
        entries, place = np.unique(pool[row] * np.int64(rows.shape[1]) + rows.indices, return_inverse=True)
        of_pool, column = np.divmod(entries, max(rows.shape[1], 1))
        start = np.append(0, np.cumsum(np.bincount(of_pool, minlength=n_pools)))
        return cls(rows, np.repeat(np.arange(n_levels.size), n_levels), n_levels, pool, n_pools, row, place, start,
                   column, _pairs(rows))

    def pool_sums(self, values):
        """Sum of a value of every row over each pool (ndarray, shape (n_pools,))."""
        return np.bincount(self.pool, values, self.n_pools)

    def towards(self, values):
        """Sum of a value of every row over each effect, times the effect (ndarray, shape (n_effects,))."""
        return self.rows.T @ values

    def held(self, weight):
        """Sum of the effects of the rows of each pool, weighed by row (scipy.sparse.csr_array, pools by effects)."""
        data = np.bincount(self.place, self.rows.data * weight[self.row], self.pool_column.size)
        return sparse.csr_array((data, self.pool_column, self.pool_start), shape=(self.n_pools, self.rows.shape[1]))

    def precision(self, weight, held, pool_variance):
        """Sum over rows of the weighed squares of their effects, less what the pools' own effects may explain.

        Parameters
        ----------
        weight : ndarray of float, shape (n,)
            Weight of each row.
        held : scipy.sparse.csr_array
            From :meth:`held` of the same weights.
        pool_variance : ndarray of float, shape (n_pools,)
            Variance of each pool's own effect were the others known.

        Returns
        -------
        ndarray of float, shape (n_effects, n_effects)
            Only on and below the diagonal as it should be: it is symmetric.
        """
        n_effects = self.rows.shape[1]
        return (self.pairs.T @ weight).reshape(n_effects, n_effects) - (
            held.T @ _scaled(held, pool_variance)).toarray()

    def doubts(self, held, pool_variance, covariance):
        """Variance of each row's sum of effects, and of each pool's own effect.

        Parameters
        ----------
        held, pool_variance
            As for :meth:`precision`.
        covariance : ndarray of float, shape (n_effects, n_effects)
            Of the other effects.

        Returns
        -------
        of_row : ndarray of float, shape (n,)
            The pool's own effect moves against the others.
        of_pool : ndarray of float, shape (n_pools,)
        """
        own_pool = np.repeat(np.arange(self.n_pools), np.diff(self.pool_start))
        moved = (held @ covariance)[own_pool, self.pool_column]
        shift = pool_variance**2 * np.bincount(own_pool, held.data * moved, self.n_pools)
        together = np.bincount(self.row, self.rows.data * moved[self.place], len(self.pool))
        alone = 2 * (self.pairs @ covariance.ravel()) - self.rows.multiply(self.rows) @ np.diag(covariance)
        of_row = alone - 2 * pool_variance[self.pool] * together + shift[self.pool]
        return np.maximum(of_row, 0) + pool_variance[self.pool], shift + pool_variance


def _indicator(group, n_groups):
    return sparse.csr_array((np.ones(group.size), (np.arange(group.size), group)), shape=(group.size, n_groups))


def _scaled(rows, factor):
    """Each sparse row times a number."""
    data = rows.data * np.repeat(factor, np.diff(rows.indptr))
    return sparse.csr_array((data, rows.indices, rows.indptr), shape=rows.shape)


def _pairs(rows):
    """Products of two effects of each row, on and below the diagonal."""
    n_each, n_effects = np.diff(rows.indptr), rows.shape[1]
    partners = np.repeat(n_each, n_each)  # entries of its row, for each entry
    first = np.repeat(np.arange(rows.nnz), partners)
    second = np.repeat(np.repeat(rows.indptr[:-1], n_each) + partners - np.cumsum(partners), partners)
    second += np.arange(first.size)
    is_below = rows.indices[first] >= rows.indices[second]
    first, second = first[is_below], second[is_below]
    row = np.repeat(np.arange(rows.shape[0]), n_each)[first]
    flat = rows.indices[first].astype(np.int64) * n_effects + rows.indices[second]
    return sparse.csr_array((rows.data[first] * rows.data[second], (row, flat)), shape=(rows.shape[0], n_effects**2))
