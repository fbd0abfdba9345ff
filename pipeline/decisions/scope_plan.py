"""What becomes of every piece of a machine under an option: replaced, treated, or kept, and what is opened for it."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.decisions.scope_outlook import KEPT, KIND, KINDS, NEW, TREATMENT_HOURS
from pipeline.decisions.scope_prospect import OWNER_DAYS, prospect
from pipeline.decisions.scope_subject import FROM_LIST
from pipeline.kernels import judged_pieces
from pipeline.kernels import scope as kernel

FAILED, AS_FOUND, WHOLE, ALONG, TREATED = "failed", "as found", "whole", "along", "treated"


@dataclass(frozen=True)
class Plan:
    """One option of one machine, in the lines of its table.

    Attributes
    ----------
    pcs : ndarray of float, shape (n_lines, n_kinds)
        Pieces of each life (`pipeline.decisions.scope_outlook.KINDS`) in the machine once it is delivered.
    moves : pandas.DataFrame
        What is done: ``line`` (its place), ``action`` (``replace``, ``make``, ``clean``, ``recondition``), ``pcs``,
        ``note`` (`FAILED`, `AS_FOUND`, `WHOLE`, `ALONG` or `TREATED`: how the line came to it), ``parts_amount`` and
        ``hours`` of all its pieces. Amounts that nobody knows are missing.
    opened : pandas.Series
        Assemblies opened, by assembly ("" for lines outside any).
    restored : pandas.Series
        How many of them are cleaned, wired and put back whole, beyond what mending a fault takes.
    """

    pcs: np.ndarray
    moves: pd.DataFrame
    opened: pd.Series
    restored: pd.Series

    @property
    def replaced_pcs(self):
        """Pieces replaced or made, by line."""
        return self._moved(self.moves[self.moves["action"].isin(["replace", "make"])])

    @property
    def touched_pcs(self):
        """Pieces replaced, made or treated, by line."""
        return self._moved(self.moves)

    def _moved(self, moves):
        return np.bincount(moves["line"].to_numpy(dtype=int), moves["pcs"], len(self.pcs))


def states(lines):
    """Pieces of each state that fixing alone leaves in the machine, companions taken out, the worst first.

    Parameters
    ----------
    lines : pandas.DataFrame
        Of a :class:`pipeline.decisions.scope_subject.Subject`.

    Returns
    -------
    ndarray of float, shape (n_lines, 3)
    """
    there = lines[[f"{state}_pcs" for state in KEPT]].to_numpy(dtype=float)
    return judged_pieces.worst_first(there, _beyond(lines, there, "fix_only"))


def fix_only(lines):
    """Only what failed is replaced, with what comes along; the rest stays as it is."""
    return _end(lines, "fix_only", states(lines), FAILED)


def thorough(shop, subject, lines):
    """What such jobs replace, or what the teardown and the lists ask for; what is kept was looked over.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    subject : pipeline.decisions.scope_subject.Subject
    lines : pandas.DataFrame
        The subject's lines, priced.

    Returns
    -------
    Plan
    """
    left = states(lines)
    kept = judged_pieces.worst_first(left, _beyond(lines, left, "thorough"))
    unjudged, good = KEPT.index("unjudged"), KEPT.index("good")
    taken = left[:, unjudged] - kept[:, unjudged]
    judged = kept[:, unjudged] * looked_over(shop, subject, lines, left[:, unjudged], taken)
    judged[lines["is_looked"].to_numpy(dtype=bool)] = 0.0  # what the teardown said stands
    kept[:, unjudged] -= judged
    # a part that such jobs replace more seldom than fixing does: the pieces it leaves passed the bench
    room = lines["held_pcs"].to_numpy(dtype=float) - lines["thorough_pcs"].to_numpy(dtype=float) - kept.sum(axis=1)
    kept[:, good] += np.where(room - judged > 1e-9, room, judged)
    return _treated(lines, _end(lines, "thorough", kept, AS_FOUND))


def _treated(lines, plan):
    """The plan with what the list cleans or reconditions, where only the list says what a thorough job does.

    Where jobs are on record, their hours hold such work, and the lives of what they left in place its effect.
    """
    by_list, pcs, moves = (lines["thorough_from"] == FROM_LIST).to_numpy(), plan.pcs.copy(), [plan.moves]
    kept = [KIND[state, ""] for state in KEPT]
    for action, ratio in TREATMENT_HOURS.items():
        line = np.flatnonzero(by_list & (lines["thorough_action"] == action).to_numpy())
        number = pcs[np.ix_(line, kept)].sum(axis=1)
        pcs[np.ix_(line, [KIND[state, action] for state in KEPT])] = pcs[np.ix_(line, kept)]
        pcs[np.ix_(line, kept)] = 0.0
        hours = number * lines["piece_hours"].to_numpy()[line] * ratio
        moves.append(pd.DataFrame({"line": line, "action": action, "pcs": number, "note": TREATED, "parts_amount": 0.0,
                                   "hours": hours})[number > 0])
    filled = [each for each in moves if len(each)]
    together = pd.concat(filled, ignore_index=True) if filled else plan.moves
    there = opened(lines, Plan(pcs, together, plan.opened, plan.restored).touched_pcs)
    return Plan(pcs, together, there, there)


def looked_over(shop, subject, lines, left_pcs, taken_pcs):
    """Share of the unjudged pieces left that may pass as good once the bad ones among them were taken out.

    Looking helps by what it takes out, and no further: :func:`pipeline.kernels.judged_pieces.judged_good_share`.

    Parameters
    ----------
    shop, subject, lines
        As for :func:`thorough`.
    left_pcs, taken_pcs : ndarray of float, shape (n_lines,)
        Unjudged pieces, and how many of them are taken out.

    Returns
    -------
    ndarray of float, shape (n_lines,)
    """
    seen = prospect(shop, subject, lines, OWNER_DAYS)
    expected = seen.mean_of_lines(seen.expected)
    by_state = (expected[:, KIND[state, ""]] for state in KEPT)
    return judged_pieces.judged_good_share(left_pcs, taken_pcs, *by_state)


def opened(lines, replaced_pcs):
    """Expected assemblies opened for pieces replaced, by assembly.

    Parameters
    ----------
    lines : pandas.DataFrame
        A subject's lines.
    replaced_pcs : ndarray of float, shape (n_lines,)

    Returns
    -------
    pandas.Series
        By assembly, sorted; "" for lines outside any.
    """
    assembly, names = pd.factorize(lines["assembly"].fillna(""), sort=True)
    copies = copies_of(lines).to_numpy()
    return pd.Series(kernel.opened_assemblies(replaced_pcs, lines["held_pcs"], assembly, copies), index=names)


def copies_of(lines):
    """How many of each assembly the machine has, by assembly, sorted."""
    return lines.groupby(lines["assembly"].fillna(""))["copies"].max()


def replaced_moves(lines, line, pcs, action, note):
    """Moves that put a new piece in.

    Parameters
    ----------
    lines : pandas.DataFrame
        Priced lines.
    line : array_like of int, shape (n,)
        Places of the lines.
    pcs : array_like of float, shape (n,)
    action, note : array_like of str, shape (n,), or str

    Returns
    -------
    pandas.DataFrame
        See :class:`Plan`.
    """
    own = lines.iloc[line]
    made = pd.DataFrame({"line": line, "action": action, "pcs": pcs, "note": note})
    price = np.where(made["action"] == "make", own["made_price"], own["unit_price"])
    hours = (own["piece_hours"] + own["fit_hours"]).to_numpy()
    return made.assign(parts_amount=made["pcs"] * price, hours=made["pcs"] * hours)


def _beyond(lines, there, option):
    """Pieces replaced beyond those that failed: more than the free room that held pieces leave."""
    taken = there.sum(axis=1) + lines[f"{option}_pcs"].to_numpy(dtype=float) - lines["held_pcs"].to_numpy(dtype=float)
    return np.maximum(taken, 0.0)


def _end(lines, option, kept, note):
    replaced = lines[f"{option}_pcs"].to_numpy(dtype=float)
    pcs = np.zeros((len(lines), len(KINDS)))
    pcs[:, KIND[NEW, ""]] = replaced
    pcs[:, [KIND[state, ""] for state in KEPT]] = kept
    line = np.flatnonzero(replaced > 0)
    listed = lines[f"{option}_action"].to_numpy(dtype=object)[line]
    action = np.where(listed == "make", "make", "replace").astype(object)
    there = opened(lines, replaced)
    restored = there if option == "thorough" else there * 0.0
    return Plan(pcs, replaced_moves(lines, line, replaced[line], action, note), there, restored)
