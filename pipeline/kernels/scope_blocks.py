"""The best scope at a price of quietness, assembly by assembly: what the hull and the targets are made of.

Once a price turns log chances into money, a machine falls apart: whether an assembly is opened depends on its own items
alone, except where an item needs several. Those *link* their assemblies to a block, of which every set of assemblies
that its links can need is weighed. Scores are complex: the real part decides, the imaginary part breaks ties.
"""

from dataclasses import dataclass

import numpy as np

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length
from pipeline.kernels.scope_items import Items

MOST_SETS = 2**16  # of assemblies that the links of one block can need
FORBIDDEN = 1e200  # far above any score; sums of it stay finite
_NUMBERS_AT_ONCE = 2**21


@dataclass(frozen=True)
class Block:
    """Assemblies that links tie together.

    Attributes
    ----------
    assemblies : ndarray of int, shape (k,)
    sets : ndarray of bool, shape (n_sets, k)
        Every set of them that the links together can need; the others are opened or not each for itself.
    links : list of int
        Groups with items in several assemblies.
    patterns : list of tuple of (ndarray of bool, ndarray of int)
        For each link: the items that may be taken, shape (n_patterns, n_items of the link), and the pattern of
        each set.
    """

    assemblies: np.ndarray
    sets: np.ndarray
    links: list
    patterns: list


@dataclass(frozen=True)
class Layout:
    """Where items stand.

    Attributes
    ----------
    starts, ends : ndarray of int, shape (n_groups,)
        First item of each group, and the one after its last.
    is_needing : ndarray of bool, shape (n_items,)
        Whether the item needs an assembly open.
    home : ndarray of float, shape (n_groups, n_assemblies)
        1 where all that the group can need is this assembly; links and groups without needs have none.
    is_loose : ndarray of bool, shape (n_groups,)
        Whether the group needs nothing whatever is taken.
    blocks : list of Block
    """

    starts: np.ndarray
    ends: np.ndarray
    is_needing: np.ndarray
    home: np.ndarray
    is_loose: np.ndarray
    blocks: list


@dataclass(frozen=True)
class Scores:
    """Least scores at each price; what is lower is better.

    Attributes
    ----------
    item : ndarray of complex, shape (n_prices, n_items)
    open_group, closed_group : ndarray of complex, shape (n_prices, n_groups)
        Best item of each group where its assembly is open, and without need of it.
    opened, closed : ndarray of complex, shape (n_prices, n_assemblies)
        Sum over the groups at home in the assembly, with what opening costs.
    sets : list of ndarray of complex, shape (n_prices, n_sets)
        For each block: its links and assemblies, where the assemblies of the set are open.
    """

    item: np.ndarray
    open_group: np.ndarray
    closed_group: np.ndarray
    opened: np.ndarray
    closed: np.ndarray
    sets: list


def checked(items):
    """Refuse items that cannot be.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items

    Returns
    -------
    pipeline.kernels.scope_items.Items
        Arrays throughout.

    Raises
    ------
    InvalidParameter
        If shapes differ, groups do not rise from 0 without a gap, a number is missing, a log chance positive or an
        amount of opening negative.
    """
    group, amount, log_quiet = same_length(group=items.group, amount=items.amount, log_quiet=items.log_quiet)
    group, _ = group_index(group, group.size)
    if not group.size or not np.isin(np.diff(group, prepend=-1), (0, 1)).all():
        raise InvalidParameter("group of the items does not rise from 0 without a gap.")
    if not np.isfinite(amount.astype(float)).all():
        raise InvalidParameter("amount of an item is missing or endless; wanted a finite number.")
    open_amount, open_quiet = same_length(
        open_amount=require.not_negative("open_amount", items.open_amount), open_log_quiet=items.open_log_quiet)
    needs = np.asarray(items.needs, dtype=bool)
    if needs.shape != (group.size, open_amount.size):
        raise InvalidParameter(f"needs has shape {needs.shape}; wanted {(group.size, open_amount.size)}.")
    return Items(group, amount.astype(float), -require.not_negative("-log_quiet", -log_quiet), needs, open_amount,
                 -require.not_negative("-open_log_quiet", -open_quiet), items.action, items.along_share)


def layout(items):
    """Find the blocks of a machine.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
        From :func:`checked`.

    Returns
    -------
    Layout

    Raises
    ------
    InvalidParameter
        If the links of one block can need more than ``MOST_SETS`` sets of assemblies.
    """
    starts = np.flatnonzero(np.diff(items.group, prepend=-1))
    ends = np.append(starts[1:], items.group.size)
    reach = np.logical_or.reduceat(items.needs, starts, axis=0)
    is_link = reach.sum(axis=1) > 1
    unsorted = list(np.flatnonzero(is_link))
    blocks = []
    while unsorted:
        links, span = [unsorted.pop(0)], reach[is_link][0] & False
        while True:
            span = span | reach[links].any(axis=0)
            more = [link for link in unsorted if (reach[link] & span).any()]
            if not more:
                break
            links, unsorted = links + more, [link for link in unsorted if link not in more]
        blocks.append(_block(items, starts, ends, np.flatnonzero(span), links))
    return Layout(starts, ends, items.needs.any(axis=1), (reach & ~is_link[:, None]).astype(float),
                  ~reach.any(axis=1), blocks)


def _block(items, starts, ends, assemblies, links):
    """Sets that the links of a block can need, and what each link may take under each."""
    sets, needs = np.zeros((1, assemblies.size), dtype=bool), []
    for link in links:
        needs.append(items.needs[starts[link] : ends[link]][:, assemblies])
        asked = np.unique(needs[-1], axis=0)
        sets = np.unique((sets[:, None] | asked).reshape(-1, assemblies.size), axis=0)
        if len(sets) > MOST_SETS:
            raise InvalidParameter(f"companions tie {assemblies.size} assemblies together in more than {MOST_SETS} "
                                   "ways; wanted rules that stay within fewer assemblies.")
    patterns = []
    for theirs in needs:
        part, pattern = np.unique(sets & theirs.any(axis=0), axis=0, return_inverse=True)
        patterns.append((~(theirs & ~part[:, None]).any(axis=2), pattern.reshape(-1)))
    return Block(assemblies, sets, links, patterns)


def scores(items, laid, price):
    """Score everything at each price.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
    laid : Layout
    price : ndarray of float, shape (n_prices,)
        Money for a unit of log chance, at least 0; ``inf`` = quietness alone counts.

    Returns
    -------
    Scores
    """
    item = _score(items.amount, items.log_quiet, price)
    charge = _score(items.open_amount, items.open_log_quiet, price)
    open_group = np.minimum.reduceat(item, laid.starts, axis=1)
    closed_group = np.minimum.reduceat(np.where(laid.is_needing, FORBIDDEN, item), laid.starts, axis=1)
    opened, closed = open_group @ laid.home + charge, closed_group @ laid.home
    best = np.minimum(opened, closed)
    sets = []
    for block in laid.blocks:
        total = opened[:, block.assemblies] @ block.sets.T + best[:, block.assemblies] @ ~block.sets.T
        for link, (allowed, pattern) in zip(block.links, block.patterns, strict=True):
            own = item[:, None, laid.starts[link] : laid.ends[link]]
            total += np.where(allowed, own, FORBIDDEN).min(axis=2)[:, pattern]
        sets.append(total)
    return Scores(item, open_group, closed_group, opened, closed, sets)


def _score(amount, log_quiet, price):
    """Amount less price times log chance; of equals the quieter, and of the quietest the cheaper."""
    is_endless = np.isinf(price)[:, None]
    money = amount - np.where(is_endless, 0.0, price[:, None]) * log_quiet
    score = np.empty(money.shape, dtype=complex)
    score.real, score.imag = np.where(is_endless, -log_quiet, money), np.where(is_endless, amount, -log_quiet)
    return score


def taken_at(items, laid, price):
    """Best item of each group at each price.

    Parameters
    ----------
    items : pipeline.kernels.scope_items.Items
    laid : Layout
    price : ndarray of float, shape (n_prices,)
        As for :func:`scores`.

    Returns
    -------
    ndarray of int, shape (n_prices, n_groups)
        Items.
    """
    size = items.group.size + sum(block.sets.shape[0] * (1 + len(block.links)) for block in laid.blocks)
    at_once = max(_NUMBERS_AT_ONCE // size, 1)
    parts = [_taken(items, laid, price[start : start + at_once]) for start in range(0, price.size, at_once)]
    return np.concatenate(parts) if parts else np.empty((0, laid.starts.size), dtype=np.int64)


def _taken(items, laid, price):
    found = scores(items, laid, price)
    is_open = found.opened < found.closed
    for block, total in zip(laid.blocks, found.sets, strict=True):
        is_open[:, block.assemblies] |= block.sets[total.argmin(axis=1)]
    item = np.where((~is_open).astype(float) @ items.needs.T > 0, FORBIDDEN, found.item)
    least = np.minimum.reduceat(item, laid.starts, axis=1)
    number = np.where(item == least[:, items.group], np.arange(items.group.size), items.group.size)
    return np.minimum.reduceat(number, laid.starts, axis=1)
