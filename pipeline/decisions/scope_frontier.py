"""Scopes of one machine that nothing cheaper makes as quiet: what each costs, and how much of each row it takes."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions.scope_rows import LEAST_PCS


@dataclass(frozen=True)
class Frontier:
    """Scopes of one machine that nothing cheaper makes as quiet, from the cheapest to the quietest.

    Attributes
    ----------
    table : pandas.DataFrame
        ``quiet_share`` (chance of no call-back inside the warranty, over the whole belief), ``now_amount`` (an open
        job's wait for parts in its bay included), ``later_amount``, ``total_amount`` (their sum, expected over the
        horizon).
    weights : ndarray of float, shape (n_scopes, n_rows)
        How much of each row a scope takes: 1, 0, or a share where pieces come along.
    along : ndarray of float, shape (n_scopes, n_rows)
        How much of that comes along with what is replaced beside it.
    is_open : ndarray of bool, shape (n_scopes, n_assemblies)
        Assemblies opened beyond what fixing opens.
    """

    table: pd.DataFrame
    weights: np.ndarray
    along: np.ndarray
    is_open: np.ndarray

    def best(self, quiet_share):
        """Place of the cheapest scope at least as quiet as asked; of the cheapest of all where none is so quiet."""
        total = self.table["total_amount"].where(self.table["quiet_share"] >= quiet_share, np.inf).to_numpy()
        return int(total.argmin()) if np.isfinite(total).any() else int(self.table["total_amount"].to_numpy().argmin())

    def towards(self, quiet_share):
        """Place of the scope to weigh the belief at: the best one, or the quietest where none is quiet enough."""
        quiet = self.table["quiet_share"].to_numpy()
        return self.best(quiet_share) if (quiet >= quiet_share).any() else int(quiet.argmax())


def row_weights(made, taken, table):
    """How much of each row every scope takes: its own actions, less what comes along of whole replacements.

    Parameters
    ----------
    made : pipeline.kernels.scope_items.Items
    taken : ndarray of int, shape (n_scopes, n_groups)
        Items taken.
    table : pandas.DataFrame
        Of :class:`pipeline.decisions.scope_rows.Rows`.

    Returns
    -------
    weights, along : ndarray of float, shape (n_scopes, n_rows)
        See :class:`Frontier`.
    """
    portion = table["portion"].to_numpy(dtype=int)
    action = made.action[taken].max(axis=1)  # (n_scopes, n_portions): only one group speaks for a portion
    along = made.along_share[taken].sum(axis=1)
    rest = 1 - table["replaced_share"].to_numpy(dtype=float)[action]
    share = np.divide(along, rest, out=np.zeros(along.shape), where=rest > LEAST_PCS)
    weights = np.zeros((len(taken), len(table)))
    scope = np.arange(len(taken))[:, None]
    np.add.at(weights, (scope, action), 1 - share)
    whole = np.full(portion.max(initial=-1) + 1, -1)
    is_whole = table["is_whole"].to_numpy(dtype=bool)
    whole[portion[is_whole]] = np.flatnonzero(is_whole)
    coming = np.zeros_like(weights)
    np.add.at(coming, (scope, np.broadcast_to(whole, action.shape)), share)
    return weights + coming, coming


def joined(first, second):
    """Finalists of two frontiers of one machine, sorted by their chance, those that another beats left out."""
    table = pd.concat([first.table, second.table], ignore_index=True)
    names = ("weights", "along", "is_open")
    weights, along, is_open = (np.concatenate([getattr(first, name), getattr(second, name)]) for name in names)
    order = np.lexsort([table["total_amount"], -table["quiet_share"]])
    total = table["total_amount"].to_numpy()[order]
    is_kept = total < np.concatenate([[np.inf], np.minimum.accumulate(total)[:-1]])
    kept = order[is_kept][::-1]
    return Frontier(table.iloc[kept].reset_index(drop=True), weights[kept], along[kept], is_open[kept])
