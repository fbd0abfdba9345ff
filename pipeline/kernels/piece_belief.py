"""Distribution of the pieces a job takes of a part that it uses: the whole set a machine holds, or fewer."""

import numpy as np
from scipy.special import gammaln, xlog1py
from scipy.stats import nbinom

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import same_length
from pipeline.kernels.pieces_per_use import nested_mean
from pipeline.kernels.quadrature import beta_nodes, odds_nodes

SET_PSEUDO_USES = 2.0  # uses that the wider grouping's share of whole sets is worth to the closer one
TAIL_TOLERANCE = 1e-8
MOST_VALUES = 2**27  # probabilities in all: a gigabyte
NODES_EACH = 2


def set_belief(set_uses, uses, can_be_set, *pools):
    """Beta belief about the share of uses that take every piece the machine holds: sets are done whole.

    Parameters
    ----------
    set_uses, uses : array_like of float, shape (n,)
        Uses that took the whole set, and all uses.
    can_be_set : array_like of bool, shape (n,)
        Where it is known that a machine holds several; elsewhere the uses say nothing of sets.
    *pools : array_like of int, shape (n,)
        Pool of each row, from the widest grouping to the closest.

    Returns
    -------
    alpha, beta : ndarray of float, shape (n,)
        Centred on the other rows of each pool in turn, worth two uses, the row's own uses added.

    Raises
    ------
    InvalidParameter
        If lengths differ, a count is negative, or there are more whole sets than uses.

    Examples
    --------
    >>> alpha, beta = set_belief([3.0, 0.0], [3.0, 0.0], [True, True], [0, 0])
    >>> (alpha / (alpha + beta)).round(3)  # a row without uses leans on the other: (2 * 0.8 + 3) / (2 + 3)
    array([0.92, 0.92])
    """
    sets, uses, possible = same_length(set_uses=set_uses, uses=uses, can_be_set=can_be_set)
    sets, uses = (np.where(possible, require.not_negative(name, values), 0.0)
                  for name, values in (("set_uses", sets), ("uses", uses)))
    require.not_negative("uses - set_uses", uses - sets)
    overall = np.full(sets.size, (sets.sum() + 1) / (uses.sum() + 2))
    centre = nested_mean(sets, uses, overall, *pools, pseudo_count=SET_PSEUDO_USES)
    return SET_PSEUDO_USES * centre + sets, SET_PSEUDO_USES * (1 - centre) + (uses - sets)


def pieces_given_use(extra_alpha, extra_beta, extra_size, set_alpha, set_beta, machine_pcs):
    """Probability of 1, 2, 3 ... pieces for a job that uses the part, at each node of what is believed.

    Parameters
    ----------
    extra_alpha, extra_beta : array_like of float, shape (n,)
        Uses short of the whole set take 1 + negative binomial(extra_size, p) pieces, p ~ Beta; ``extra_alpha``
        more than 2.
    extra_size : array_like of float, shape (n,)
        Size of that negative binomial.
    set_alpha, set_beta : array_like of float, shape (n,)
        The share of uses that take the whole set is Beta; without effect where ``machine_pcs`` has no end.
    machine_pcs : array_like of float, shape (n,)
        Most pieces a job can take: what a machine holds; infinity where unknown.

    Returns
    -------
    pieces : ndarray of float, shape (n, 4, n_values)
        Probability of 0, 1, 2 ... pieces, 0 of none. The negative binomial is cut off at what the machine holds.
    piece_weight : ndarray of float, shape (n, 4)
        Weight of each node; rows sum to 1. Two nodes for the share of sets times two for the extra pieces keep
        mean and variance of each.

    Raises
    ------
    InvalidParameter
        If lengths differ, a parameter is not positive, a machine holds less than one piece, or a part is taken in
        such numbers that the distributions would not fit into memory.
    """
    machine = np.asarray(machine_pcs, dtype=float)
    if not (machine >= 1).all():
        raise InvalidParameter(f"machine_pcs holds {machine.min():g}; wanted at least 1, or infinity where unknown.")
    odds, odds_weight = odds_nodes(extra_alpha, extra_beta, NODES_EACH)
    share, share_weight = beta_nodes(set_alpha, set_beta, NODES_EACH)
    size, stay = require.positive("extra_size", extra_size)[:, None], 1 / (1 + odds)
    most = np.minimum(nbinom.isf(TAIL_TOLERANCE, size, stay).max(axis=1, initial=0), machine - 1)
    whole_set = np.where(np.isfinite(machine), machine - 1, 0)
    n_values = int(max(most.max(initial=0), whole_set.max(initial=0))) + 2
    if n_values * most.size * NODES_EACH**2 > MOST_VALUES:
        raise InvalidParameter(f"a job may take {n_values:,} pieces of a part; wanted at most "
                               f"{MOST_VALUES // (most.size * NODES_EACH**2):,} with {most.size:,} rows.")
    count = np.arange(n_values - 1)
    below = np.where(count <= most[:, None, None], _log_chance(count, size, stay), -np.inf)
    below = np.exp(below - below.max(axis=2, keepdims=True))  # the cut may leave only what would underflow
    below /= below.sum(axis=2, keepdims=True)
    is_set = (count == machine[:, None] - 1).astype(float)[:, None, None]
    share = np.where(np.isfinite(machine)[:, None], share, 0)[:, :, None, None]
    pieces = share * is_set + (1 - share) * below[:, None]
    pieces = np.concatenate([np.zeros((*pieces.shape[:3], 1)), pieces], axis=3)
    weight = share_weight[:, :, None] * odds_weight[:, None, :]
    return pieces.reshape(most.size, NODES_EACH**2, n_values), weight.reshape(most.size, NODES_EACH**2)


def _log_chance(count, size, stay):
    """Log probability of the negative binomial, (n, n_nodes, n_counts): parts have one size in all their cells."""
    sizes, place = np.unique(size[:, 0], return_inverse=True)
    ways = gammaln(sizes[:, None] + count) - gammaln(count + 1) - gammaln(sizes)[:, None]
    return (ways[place][:, None] + (size * np.log(stay))[:, :, None]) + xlog1py(count, -stay[:, :, None])
