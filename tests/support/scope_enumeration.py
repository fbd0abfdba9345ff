"""Scopes of work by counting out all of them, and by a plain program over lines: no line of the kernel they referee."""

from itertools import product

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from pipeline.kernels.scope_items import Actions, Companions

MOST_SCOPES = 2**15
QUIET_UNIT = 1e-4  # a target is a row of the program, which is kept to 1e-6 of its unit


def machine(seed, n_lines, n_assemblies, n_rules, most_actions=5, cross_share=0.1):
    """Lines of a machine with prices as they are, a chance of a call-back of some 0.2 % each, and rules among them.

    Some actions keep a share of the pieces, some lines can be wholly replaced by a companion only, some not at all.
    ``cross_share`` of the rules have triggers in any assembly, the others in the target's.
    """
    rng = np.random.default_rng(seed)
    assembly = np.sort(np.concatenate([np.arange(n_assemblies), rng.integers(0, n_assemblies, n_lines - n_assemblies)]))
    actions = _actions(rng, assembly, most_actions)
    companions = _rules(rng, actions.assembly, n_rules, cross_share)
    return (actions, companions, rng.choice([0.0, 20.0, 45.0, 90.0], n_assemblies).round(2),
            -rng.choice([0.0, 0.0, 2e-4, 1e-3], n_assemblies))


def _actions(rng, assembly, most_actions):
    line, columns = [], []
    for number in range(assembly.size):
        keep_quiet = -0.002 * rng.lognormal(0.0, 1.0)
        later, price = -keep_quiet * rng.lognormal(5.5, 0.3), rng.lognormal(2.0, 1.2)
        n_more = rng.integers(1, most_actions)
        gain = np.sort(rng.uniform(0.0, 0.95, n_more))
        share = np.where(rng.random(n_more) < 0.3, 0.0, rng.uniform(0.2, 1.0, n_more))
        amount = price * rng.uniform(0.1, 1.0, n_more) * (0.3 + gain) + later * (1 - gain)
        opening, offered, is_whole = rng.random(n_more) < 0.85, np.ones(n_more, dtype=bool), np.zeros(n_more, bool)
        if rng.random() < 0.8:
            is_whole[-1], share[-1], offered[-1] = True, 1.0, rng.random() < 0.8
        line += [number] * (n_more + 1)
        columns.append(np.column_stack([
            np.append(later, amount), np.append(keep_quiet, keep_quiet * (1 - gain)), np.append(False, opening),
            np.append(0.0, share), np.append(True, offered), np.append(False, is_whole)]))
    amount, quiet, opening, share, offered, is_whole = np.concatenate(columns).T
    return Actions(np.array(line), amount, quiet, opening > 0, share, offered > 0, is_whole > 0, assembly)


def _rules(rng, assembly, n_rules, cross_share):
    """Rules of one to three triggers and a target; every second may share the target before, or ask for its trigger.

    No more than two rules hang together: the kernel decides larger components jointly, and is then not exact.
    """
    rows, is_free, before = [], np.ones(assembly.size, dtype=bool), None
    for rule in range(n_rules):
        is_second = before is not None and rng.random() < 0.5
        target = rng.choice(before) if is_second else rng.choice(np.flatnonzero(is_free))
        is_free[target] = False
        near = np.flatnonzero(is_free & ((assembly == assembly[target]) | (rng.random() < cross_share)))
        triggers = rng.choice(near, min(near.size, rng.integers(1, 4)), replace=False)
        is_free[triggers] = False
        before = None if is_second else [target, target, *triggers]
        rows += [(rule, trigger, target, rng.choice([0.3, 0.5, 1.0])) for trigger in triggers]
        if not is_free.any():
            break
    columns = list(zip(*rows, strict=True)) or [(), (), (), ()]
    return Companions(*(np.array(column, dtype=int) for column in columns[:3]), np.array(columns[3], dtype=float))


def small_machine(seed):
    """Up to 14 lines with 2 to 5 actions each, as many as can be counted out."""
    rng = np.random.default_rng(seed)
    n_lines = int(rng.integers(4, 15))
    for attempt in range(1000):
        found = machine(1000 * seed + attempt, n_lines, int(rng.integers(1, 5)), int(rng.integers(0, 4)),
                        int(rng.integers(2, 6)), cross_share=0.5)
        if np.prod(np.bincount(found[0].line[found[0].is_offered]).astype(float)) <= MOST_SCOPES:
            return found
    raise AssertionError(f"no machine of seed {seed} is small enough")


def along(actions, companions, target, chosen_row):
    """Share of a target's pieces that come along, given the row that each line takes."""
    most = 0.0
    whole = (actions.line == target) & actions.is_whole_replacement
    for rule in set(companions.rule[companions.target == target].tolist()):
        own = (companions.rule == rule) & (companions.target == target)
        most = max(most, min(1.0, sum(level * actions.replaced_share[chosen_row[trigger]] for level, trigger
                                      in zip(companions.level[own], companions.trigger[own], strict=True))))
    more = most - actions.replaced_share[chosen_row[target]]
    return more if more > 1e-12 and whole.any() else 0.0


def line_outcome(actions, companions, line, chosen_row):
    """Amount and log chance of one line, and whether its assembly must be open."""
    row, more = chosen_row[line], along(actions, companions, line, chosen_row)
    amount, quiet = actions.amount[row], actions.log_quiet[row]
    if more:
        whole = np.flatnonzero((actions.line == line) & actions.is_whole_replacement)[0]
        part = more / (1 - actions.replaced_share[row])
        amount = amount + part * (actions.amount[whole] - amount)
        quiet = quiet + part * (actions.log_quiet[whole] - quiet)
    return amount, quiet, bool(actions.is_opening[row] or more)


def tables(actions, companions):
    """For each line: the lines its outcome hangs on (itself first) and the outcome for each choice of their rows."""
    rows = [np.flatnonzero((actions.line == line) & actions.is_offered) for line in range(actions.assembly.size)]
    for line in range(actions.assembly.size):
        triggers = companions.trigger[companions.target == line].tolist()
        lines = list(dict.fromkeys([line, *triggers]))
        chosen = [dict(zip(lines, choice, strict=True)) for choice in product(*(rows[one] for one in lines))]
        yield lines, chosen, [line_outcome(actions, companions, line, choice) for choice in chosen]


def every_scope(actions, companions, open_amount, open_log_quiet):
    """Amount and log chance of every scope, and the row that each line takes in it."""
    n_lines = actions.assembly.size
    rows = [np.flatnonzero((actions.line == line) & actions.is_offered) for line in range(n_lines)]
    choice = np.array(np.meshgrid(*rows, indexing="ij")).reshape(n_lines, -1).T
    amount, quiet = np.zeros(len(choice)), np.zeros(len(choice))
    is_open = np.zeros((len(choice), len(open_amount)), dtype=bool)
    for lines, chosen, outcomes in tables(actions, companions):
        for rows_of, (own_amount, own_quiet, opens) in zip(chosen, outcomes, strict=True):
            hit = np.ones(len(choice), dtype=bool)
            for line in lines:
                hit &= choice[:, line] == rows_of[line]
            amount[hit], quiet[hit] = amount[hit] + own_amount, quiet[hit] + own_quiet
            is_open[hit, actions.assembly[lines[0]]] |= opens
    return amount + is_open @ open_amount, quiet + is_open @ open_log_quiet, choice


def lower_hull(amount, quiet):
    """Vertices of the lower hull from the cheapest to the quietest point, as (amount, quiet), by turning left."""
    order = np.lexsort((-quiet, amount))
    points, most = [], -np.inf
    for index in order:
        if quiet[index] <= most + 1e-14:
            continue
        most = quiet[index]
        while len(points) > 1 and _turns(points[-2], points[-1], (amount[index], most)) <= 1e-12:
            points.pop()
        points.append((amount[index], most))
    return np.array(points)


def _turns(first, second, third):
    return ((second[1] - first[1]) * (third[0] - first[0])
            - (second[0] - first[0]) * (third[1] - first[1]))


class Program:
    """One binary for every row of every line, and for every choice of the rows an outcome hangs on."""

    def __init__(self, actions, companions, open_amount, open_log_quiet):
        self.n = len(actions.line) + len(open_amount)
        self.cost, self.quiet = [*np.zeros(len(actions.line)), *open_amount], [*np.zeros(len(actions.line)),
                                                                              *open_log_quiet]
        self.entries, self.low, self.high = [], [], []
        self.is_whole = np.ones(self.n)
        self.last_row = np.where(actions.is_offered, 1.0, 0.0)
        for lines, chosen, outcomes in tables(actions, companions):
            first = self.n
            self.n += len(chosen)
            self.is_whole = np.append(self.is_whole, np.zeros(len(chosen)))  # follow from the rows, whole as they are
            self.cost += [outcome[0] for outcome in outcomes]
            self.quiet += [outcome[1] for outcome in outcomes]
            self._row([(first + k, 1.0) for k in range(len(chosen))], 1, 1)
            for line in lines:
                for row in {choice[line] for choice in chosen}:
                    same = [(first + k, 1.0) for k, choice in enumerate(chosen) if choice[line] == row]
                    self._row([*same, (row, -1.0)], 0, 0)
            opening = [(first + k, 1.0) for k, outcome in enumerate(outcomes) if outcome[2]]
            self._row([*opening, (len(actions.line) + actions.assembly[lines[0]], -1.0)], -np.inf, 0)

    def _row(self, entries, low, high):
        self.entries += [(len(self.low), column, value) for column, value in entries]
        self.low.append(low)
        self.high.append(high)

    def least(self, target):
        """Amount and log chance of the cheapest scope of at least the target's log chance; None where there is none."""
        row, column, value = zip(*self.entries, strict=True)
        matrix = coo_array((value, (row, column)), shape=(len(self.low), self.n)).tocsr()
        upper = np.ones(self.n)
        upper[: self.last_row.size] = self.last_row
        found = milp(np.array(self.cost), integrality=self.is_whole, bounds=Bounds(0, upper), constraints=[
            LinearConstraint(matrix, self.low, self.high),
            LinearConstraint(np.array(self.quiet)[None] / QUIET_UNIT, target / QUIET_UNIT, np.inf)],
            options={"mip_rel_gap": 0.0})
        if found.x is None:
            return None
        chosen = np.round(found.x)
        return float(chosen @ self.cost), float(chosen @ self.quiet)
