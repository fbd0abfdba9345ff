"""What can be done to the lines of one machine, as groups of which exactly one item is taken."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from pipeline.errors import InvalidParameter
from pipeline.kernels import require
from pipeline.kernels.arguments import group_index, same_length, whole
from pipeline.kernels.scope_lone_lines import alone_items

MOST_STATES = 2**16  # of one component, each line by itself
MOST_JOINT_STATES = 2**12  # and with lines decided jointly: there are then many of them
MOST_ASSEMBLIES = 8  # over which a component may choose freely: each set of them is weighed
TINY = 1e-12  # a share less than this above another is rounding


@dataclass(frozen=True)
class Actions:
    """What can be done to each line; rows sorted by line, the first of each line keeps it as it is.

    Attributes
    ----------
    line : ndarray of int, shape (n_rows,)
        Line of the row, from 0; every line is present.
    amount : ndarray of float, shape (n_rows,)
        Cost now, opening aside, and expected later cost of the line's pieces under this action; money.
    log_quiet : ndarray of float, shape (n_rows,)
        Log chance that the line's pieces cause no call-back inside the warranty, at most 0.
    is_opening : ndarray of bool, shape (n_rows,)
        Whether the line's assembly must be open.
    replaced_share : ndarray of float, shape (n_rows,)
        Share of the line's pieces that the action replaces.
    is_offered : ndarray of bool, shape (n_rows,)
        Whether it may be chosen by itself; other rows serve companions only.
    is_whole_replacement : ndarray of bool, shape (n_rows,)
        At most one row a line: all pieces replaced. What a companion turns pieces into.
    assembly : ndarray of int, shape (n_lines,)
        Assembly of each line, from 0.
    """

    line: np.ndarray
    amount: np.ndarray
    log_quiet: np.ndarray
    is_opening: np.ndarray
    replaced_share: np.ndarray
    is_offered: np.ndarray
    is_whole_replacement: np.ndarray
    assembly: np.ndarray


@dataclass(frozen=True)
class Companions:
    """Rules that bring pieces along, one row for each trigger of each rule; arrays of shape (n,).

    Attributes
    ----------
    rule : ndarray of int
        Rule; its rows add up, to 1 at most. Of several rules with one target the largest counts.
    trigger, target : ndarray of int
        Line that is replaced, and line whose pieces come along.
    level : ndarray of float
        Share of the target's pieces that come along when the trigger's line is wholly replaced.
    """

    rule: np.ndarray
    trigger: np.ndarray
    target: np.ndarray
    level: np.ndarray


@dataclass(frozen=True)
class Items:
    """Groups of which exactly one item is taken; the first item of a group keeps all its lines.

    Attributes
    ----------
    group : ndarray of int, shape (n_items,)
        Rising, from 0.
    amount, log_quiet : ndarray of float, shape (n_items,)
        Money, and log chance of no call-back.
    needs : ndarray of bool, shape (n_items, n_assemblies)
        Assemblies that must be open.
    open_amount, open_log_quiet : ndarray of float, shape (n_assemblies,)
        What an open assembly costs, once; and the log chance that opening it brings no call without a part.
    action : ndarray of int, shape (n_items, n_lines)
        Row of :class:`Actions` that each line of the group takes; -1 for lines of other groups.
    along_share : ndarray of float, shape (n_items, n_lines)
        Share of each line's pieces that come along on top of its action.
    """

    group: np.ndarray
    amount: np.ndarray
    log_quiet: np.ndarray
    needs: np.ndarray
    open_amount: np.ndarray
    open_log_quiet: np.ndarray
    action: np.ndarray
    along_share: np.ndarray


def items(actions, companions, open_amount, open_log_quiet):
    """Turn what can be done to lines into items, lines that companions tie together in one group.

    Parameters
    ----------
    actions : Actions
    companions : Companions
    open_amount : array_like of float, shape (n_assemblies,)
        Cost of opening each assembly, at least 0.
    open_log_quiet : array_like of float, shape (n_assemblies,)
        Log chance that opening it brings no call-back, at most 0.

    Returns
    -------
    Items
        Of each group its base, all lines kept, and the states that none with the same or fewer needs beats in
        amount and log_quiet.

    Raises
    ------
    InvalidParameter
        If shapes differ, a number is missing, a log chance positive, an amount of opening negative, a share outside
        0 to 1, a line without rows or not to be kept, or a whole replacement leaves pieces.

    Notes
    -----
    A target is wanted at the largest level over its rules, the rule's level being the sum over its triggers of level
    times the replaced share of the trigger's own action, at most 1. Pieces above those that the target's own action
    replaces come along: they turn into wholly replaced ones, need the target's assembly open and trigger nothing
    further. A target without a whole replacement stays as it is.

    The states of tied lines are all products of their actions. Where these are more than ``MOST_STATES``, or tie more
    than ``MOST_ASSEMBLIES`` assemblies, the trigger lines of one assembly are decided jointly: all kept, or all at
    their k-th action (the last, where they have fewer). Should that not do, the other lines of one assembly are, too;
    and last all triggers, and all others. Every state that remains is priced exactly.

    Examples
    --------
    A coil (line 0) may be replaced at 40; half of the times its sleeve (line 1) comes along.

    >>> actions = Actions(*map(np.array, (
    ...     [0, 0, 1, 1], [0.0, 40.0, 0.0, 4.0], [-0.02, -0.01, -0.03, -0.01], [False, True, False, True],
    ...     [0.0, 1.0, 0.0, 1.0], [True, True, True, False], [False, True, False, True], [0, 0])))
    >>> found = items(actions, Companions(*map(np.array, ([0], [0], [1], [0.5]))), [25.0], [0.0])
    >>> found.amount, found.log_quiet.round(3), found.along_share[:, 1]
    (array([ 0., 42.]), array([-0.05, -0.03]), array([0. , 0.5]))
    """
    actions, companions, open_amount, open_log_quiet = _checked(actions, companions, open_amount, open_log_quiet)
    components = _components(companions, actions.assembly.size)
    alone = np.array([lines[0] for lines in components if len(lines) == 1], dtype=np.int64)
    tied = [lines for lines in components if len(lines) > 1]
    found = [alone_items(actions, alone, open_amount.size)]
    found += [_of_component(actions, companions, lines, open_amount.size) for lines in tied]
    sizes = [len(one[1]) for one in found[1:]]
    first = np.concatenate([alone[found[0][0]], np.repeat([lines[0] for lines in tied], sizes)]).astype(np.int64)
    order = np.argsort(first, kind="stable")
    together = [np.concatenate(column)[order] for column in list(zip(*found, strict=True))[1:]]
    amount, log_quiet, needs, action, along_share = together
    group = np.unique(first[order], return_inverse=True)[1]
    return Items(group, amount, log_quiet, needs, open_amount, open_log_quiet, action, along_share)


def _components(companions, n_lines):
    """Lines of each component, components in order of their first line."""
    links = (np.ones(companions.trigger.size), (companions.trigger, companions.target))
    label = connected_components(coo_array(links, shape=(n_lines, n_lines)), directed=False)[1]
    order = np.argsort(label, kind="stable")
    parts = np.split(order, np.flatnonzero(np.diff(label[order])) + 1)
    return sorted(parts, key=lambda lines: lines[0])


def _of_component(actions, companions, lines, n_assemblies):
    """Columns of Items for one component."""
    rules = _rules(companions, lines)
    rows = _states(actions, lines, np.isin(lines, companions.trigger))
    amount, log_quiet, is_opening, extra = _weighed(actions, lines, rows, rules)
    reach, home = np.unique(actions.assembly[lines], return_inverse=True)
    own = np.zeros((len(rows), reach.size), dtype=bool)
    for column, place in enumerate(home):
        own[:, place] |= is_opening[:, column]
    kept = _unbeaten(amount, log_quiet, own)
    needs = np.zeros((len(kept), n_assemblies), dtype=bool)
    needs[:, reach] = own[kept]
    action = np.full((len(kept), actions.assembly.size), -1)
    along_share = np.zeros(action.shape)
    action[:, lines], along_share[:, lines] = rows[kept], extra[kept]
    return None, amount[kept], log_quiet[kept], needs, action, along_share


def _rules(companions, lines):
    """Target, triggers and levels of each rule of a component, as places among its lines."""
    own = np.flatnonzero(np.isin(companions.target, lines))
    place = {line: number for number, line in enumerate(lines)}
    found = {}
    for row in own:
        found.setdefault((companions.rule[row], companions.target[row]), []).append(row)
    return [(place[target], [place[line] for line in companions.trigger[rows]], companions.level[rows])
            for (_, target), rows in found.items()]


def _states(actions, lines, is_trigger):
    """Rows of Actions that each line takes in each state, the first state keeping all; shape (n_states, n_lines)."""
    rows = [np.flatnonzero((actions.line == line) & actions.is_offered) for line in lines]
    home = actions.assembly[lines]
    alone, count = np.arange(len(lines)), max(home.max() + 1, len(lines))
    by_assembly = count + home
    for deck, limit in ((alone, MOST_STATES), (np.where(is_trigger, by_assembly, alone), MOST_JOINT_STATES),
                        (by_assembly + count * is_trigger, MOST_JOINT_STATES), (is_trigger.astype(int), np.inf)):
        decks = [np.flatnonzero(deck == number) for number in np.unique(deck)]
        sizes = [max(len(rows[place]) for place in places) for places in decks]
        is_narrow = len(np.unique(home)) <= MOST_ASSEMBLIES or limit == np.inf
        if np.prod(np.array(sizes, dtype=float)) <= limit and is_narrow:
            break
    option = np.indices(sizes).reshape(len(sizes), -1)
    states = np.empty((option.shape[1], len(lines)), dtype=np.int64)
    for places, chosen in zip(decks, option, strict=True):
        for place in places:
            states[:, place] = rows[place][np.minimum(chosen, len(rows[place]) - 1)]
    return states


def _weighed(actions, lines, rows, rules):
    """Amount and log_quiet of each state; by line whether it opens, and the share that comes along."""
    share = actions.replaced_share[rows]
    wanted = np.zeros(rows.shape)
    for target, triggers, level in rules:
        wanted[:, target] = np.maximum(wanted[:, target], np.minimum(share[:, triggers] @ level, 1.0))
    whole_row = np.full(actions.assembly.size, -1)
    whole_row[actions.line[actions.is_whole_replacement]] = np.flatnonzero(actions.is_whole_replacement)
    whole_row = whole_row[lines]
    extra = np.where((wanted > share + TINY) & (whole_row >= 0), wanted - share, 0.0)
    part = np.divide(extra, 1 - share, out=np.zeros(rows.shape), where=extra > 0)
    amount, log_quiet = (
        (own[rows] + part * (own[whole_row] - own[rows])).sum(axis=1) for own in (actions.amount, actions.log_quiet))
    return amount, log_quiet, actions.is_opening[rows] | (extra > 0), extra


def _unbeaten(amount, log_quiet, needs):
    """States that none with the same or fewer needs beats, rising; of equals the first, and always the base, 0."""
    order = np.lexsort((np.arange(amount.size), needs.sum(axis=1), -log_quiet, amount))
    packed = np.packbits(needs, axis=1)
    kinds, kind = np.unique(packed, axis=0, return_inverse=True) if packed.shape[1] > 1 else np.unique(
        packed, return_inverse=True)  # whole rows are slow to sort, and seldom wider than a byte
    kinds = kinds.reshape(len(kinds), -1)
    kind, kept = kind.reshape(-1)[order], [np.zeros(1, dtype=np.int64)]
    for number, wanted in enumerate(kinds):
        is_rival = ~(kinds & ~wanted).any(axis=1)
        rivals = order[is_rival[kind]]
        quiet = log_quiet[rivals]
        is_kept = np.ones(rivals.size, dtype=bool)
        is_kept[1:] = quiet[1:] > np.maximum.accumulate(quiet)[:-1]
        kept.append(rivals[is_kept & (kind[is_rival[kind]] == number)])
    return np.unique(np.concatenate(kept))


def _checked(actions, companions, open_amount, open_log_quiet):
    """The arguments as arrays, refusing what cannot be."""
    open_amount, open_log_quiet = same_length(
        open_amount=require.not_negative("open_amount", open_amount), open_log_quiet=open_log_quiet)
    open_log_quiet = -require.not_negative("-open_log_quiet", -open_log_quiet)
    assembly, _ = group_index(actions.assembly, np.size(actions.assembly), open_amount.size)
    return (_checked_actions(actions, assembly), _checked_companions(companions, assembly.size),
            open_amount, open_log_quiet)


def _checked_actions(actions, assembly):
    names = ("line", "amount", "log_quiet", "is_opening", "replaced_share", "is_offered", "is_whole_replacement")
    line, amount, quiet, *rest = same_length(**{name: getattr(actions, name) for name in names})
    is_opening, share, is_offered, is_whole = rest
    line, _ = group_index(line, line.size, assembly.size)
    is_first = np.diff(line, prepend=-1)
    if not line.size or line[-1] != assembly.size - 1 or not np.isin(is_first, (0, 1)).all():
        raise InvalidParameter("line of the actions does not rise from 0 to the last line without a gap.")
    if not np.isfinite(amount.astype(float)).all():
        raise InvalidParameter("amount of an action is missing or endless; wanted a finite number.")
    quiet, share = -require.not_negative("-log_quiet", -quiet), require.share("replaced_share", share)
    is_opening, is_offered, is_whole = (values.astype(bool) for values in (is_opening, is_offered, is_whole))
    if not is_offered[is_first == 1].all():
        raise InvalidParameter("the first action of a line is not offered; wanted one that keeps the line.")
    if np.bincount(line[is_whole], minlength=1).max() > 1 or (share[is_whole] < 1).any():
        raise InvalidParameter("is_whole_replacement marks two rows of a line, or one that leaves pieces.")
    return Actions(line, amount.astype(float), quiet, is_opening, share, is_offered, is_whole, assembly)


def _checked_companions(companions, n_lines):
    names = ("rule", "trigger", "target", "level")
    rule, trigger, target, level = same_length(**{name: getattr(companions, name) for name in names})
    trigger, target = (group_index(values, rule.size, n_lines)[0] for values in (trigger, target))
    return Companions(whole("rule", rule), trigger, target, require.share("level", level))
