"""Replace now or later: what each costs, how many failures it avoids, and where the two meet.

A *line* is one part in one kind of assembly of one machine. Arrays run over lines; where lives are
uncertain, expected failures carry one row per draw: shape (n_draws, n_lines).
"""

import numpy as np

from pipeline.kernels import require
from pipeline.kernels.arguments import group_index


def opened_assemblies(replaced_pcs, held_pcs, assembly, copies):
    """Expected number of assemblies that must be opened; each is opened once, whatever is done inside.

    Parameters
    ----------
    replaced_pcs, held_pcs : array_like of float, shape (n_lines,)
        Expected pieces replaced, and pieces the machine holds (0 = not known).
    assembly : array_like of int, shape (n_lines,)
        Kind of assembly of each line, from 0.
    copies : array_like of float, shape (n_assemblies,)
        How many of each the machine has.

    Returns
    -------
    ndarray of float, shape (n_assemblies,)
        At most ``copies``. With all or none of the pieces replaced it is exact; in between, pieces
        are taken to be replaced independently of each other.

    Raises
    ------
    InvalidParameter
        If lengths differ or a number is negative.

    Examples
    --------
    Three mechanisms; the one coil of each is replaced, and one link on average of three.

    >>> opened_assemblies([3.0, 1.0], [3, 3], [0, 0], [3])
    array([3.])
    """
    replaced = require.not_negative("replaced_pcs", replaced_pcs)
    held = np.maximum(require.not_negative("held_pcs", held_pcs), replaced)
    copies = require.not_negative("copies", copies)
    assembly, _ = group_index(assembly, replaced.size, copies.size)
    share = np.divide(replaced, held, out=np.zeros(replaced.size), where=held > 0)
    per_copy = held / np.maximum(copies[assembly], 1)
    untouched = np.ones(copies.size)
    np.multiply.at(untouched, assembly, (1 - share) ** per_copy)
    return copies * (1 - untouched)


def companion_pieces(replaced_pcs, held_pcs, line, assembly, copies, rules):
    """Pieces that come along with what is replaced, counted once.

    Several rules asking for the same piece ask once (a new coil and a new plunger share one new
    sleeve), and a piece that is replaced anyway is not added again.

    Parameters
    ----------
    replaced_pcs, held_pcs : array_like of float, shape (n_lines,)
        Pieces replaced before companions, and pieces held (0 = not known: no upper limit).
    line : tuple of (ndarray of int, ndarray of int)
        Rule number and line number of every pair in which the line's part triggers the rule.
    assembly : array_like of int, shape (n_lines,)
        Kind of assembly of each line, from 0.
    copies : array_like of float, shape (n_assemblies,)
        How many of each the machine has.
    rules : dict of str to ndarray, each shape (n_rules,)
        ``target`` line that receives the pieces; ``share`` how often; ``qty_pcs`` pieces each time;
        ``per`` 0 = piece, 1 = assembly, 2 = machine.

    Returns
    -------
    ndarray of float, shape (n_lines,)
        Pieces to add to each line.

    Raises
    ------
    InvalidParameter
        If lengths differ, a number is negative or a share lies outside 0 to 1.

    Examples
    --------
    Line 0 is a coil (2 replaced), line 1 a plunger (1 replaced), line 2 the sleeve both bring.

    >>> rules = {"target": np.array([2, 2]), "share": np.ones(2), "qty_pcs": np.ones(2), "per": np.zeros(2)}
    >>> companion_pieces([2, 1, 0], [3, 3, 3], (np.array([0, 1]), np.array([0, 1])), [0, 0, 0], [3], rules)
    array([0., 0., 2.])
    """
    replaced = require.not_negative("replaced_pcs", replaced_pcs)
    held = require.not_negative("held_pcs", held_pcs)
    copies = require.not_negative("copies", copies)
    assembly, _ = group_index(assembly, replaced.size, copies.size)
    share, per = require.share("share", rules["share"]), np.asarray(rules["per"])
    rule, trigger = line
    triggered = np.bincount(rule, replaced[trigger], share.size)
    opened = np.bincount(rule, np.minimum(replaced, copies[assembly])[trigger], share.size)
    times = np.select([per == 0, per == 1], [triggered, opened], np.minimum(triggered, 1.0))
    wanted = np.zeros(replaced.size)
    np.maximum.at(wanted, rules["target"], share * np.asarray(rules["qty_pcs"]) * times)
    limit = np.where(held > 0, np.maximum(held, replaced), np.inf)
    return np.maximum(np.minimum(wanted, limit) - replaced, 0.0)


def piece_amount(piece_price, piece_hours, fit_hours, hour_cost, reject_share=0.0):
    """Cost of replacing one piece while its assembly is open.

    Parameters
    ----------
    piece_price : array_like of float
        Landed price; not a number = unknown, and so is the cost.
    piece_hours, fit_hours : array_like of float
        Bench hours for one piece, and extra fitting work of a reproduction part.
    hour_cost : float
        Own cost of an hour.
    reject_share : array_like of float
        Share of pieces bought that cannot be used, below 1; the good ones pay for them.

    Returns
    -------
    ndarray of float
        Amount per piece.

    Examples
    --------
    A sleeve at 1 and three minutes at 65 an hour.

    >>> round(float(piece_amount(1.0, 0.05, 0.0, 65.0)), 2)
    4.25
    """
    good_share = require.positive("1 - reject_share", 1 - np.asarray(reject_share, dtype=float))
    hours = require.not_negative("piece_hours", piece_hours) + require.not_negative("fit_hours", fit_hours)
    return np.asarray(piece_price, dtype=float) / good_share + hours * hour_cost


def callback_amount(piece_now_amount, piece_hours, installed_ratio, open_hours, hour_cost, visit_amount):
    """Cost of one call-back for one piece: the same work in a machine that is together, and the visit.

    Parameters
    ----------
    piece_now_amount : array_like of float
        From :func:`piece_amount`.
    piece_hours : array_like of float
        Bench hours for the piece.
    installed_ratio : array_like of float
        Hours installed over hours at the bench, at least 0 (1 = no harder).
    open_hours : array_like of float
        Hours to get the assembly out and apart again.
    hour_cost, visit_amount : float
        Cost of an hour; trip and goodwill together.

    Returns
    -------
    ndarray of float
        Amount per call-back.

    Examples
    --------
    >>> round(float(callback_amount(4.25, 0.05, 2.0, 0.5, 65.0, 105.0)), 2)
    145.0
    """
    extra_hours = np.asarray(piece_hours) * (np.asarray(installed_ratio) - 1) + np.asarray(open_hours)
    return piece_now_amount + extra_hours * hour_cost + visit_amount


def break_even_failures(now_amount, callback_amount_each):
    """Failures that must be avoided for replacing now to pay.

    Parameters
    ----------
    now_amount : array_like of float
        Cost of replacing now.
    callback_amount_each : array_like of float
        Cost of one call-back.

    Returns
    -------
    ndarray of float
        Not a number where either is unknown; endless where a call-back costs nothing.

    Examples
    --------
    >>> round(float(break_even_failures(4.25, 250.0)), 3)
    0.017
    """
    now, later = np.asarray(now_amount, dtype=float), np.asarray(callback_amount_each, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(later > 0, now / later, np.where(np.isnan(now + later), np.nan, np.inf))


def failures_avoided(replaced_pcs, kept_failures, new_failures):
    """Expected failures that replacing spares; negative where a new piece fails sooner than a kept one.

    Parameters
    ----------
    replaced_pcs : array_like of float, shape (n_lines,)
        Pieces replaced.
    kept_failures, new_failures : array_like of float, shape (..., n_lines)
        Expected failures of one piece over the horizon if kept, and if replaced.

    Returns
    -------
    ndarray of float, shape (..., n_lines)
    """
    return np.asarray(replaced_pcs) * (np.asarray(kept_failures) - np.asarray(new_failures))


def expected_callbacks(replaced_pcs, held_pcs, kept_failures, new_failures):
    """Expected failures of each line over the horizon, replaced and kept pieces together.

    Parameters
    ----------
    replaced_pcs, held_pcs : array_like of float, shape (n_lines,)
        Pieces replaced, and pieces held by the machine (at least those replaced are counted).
    kept_failures, new_failures : array_like of float, shape (..., n_lines)
        Expected failures of one piece over the horizon.

    Returns
    -------
    ndarray of float, shape (..., n_lines)
    """
    replaced = np.asarray(replaced_pcs, dtype=float)
    kept_pcs = np.maximum(np.asarray(held_pcs) - replaced, 0.0)
    return kept_pcs * np.asarray(kept_failures) + replaced * np.asarray(new_failures)


def callback_share(replaced_pcs, held_pcs, kept_survival, new_survival, other_calls):
    """Chance of at least one call-back, pieces failing independently given their lives.

    Where an expected number of pieces is replaced, each piece held is replaced with the same chance.

    Parameters
    ----------
    replaced_pcs, held_pcs : array_like of float, shape (n_lines,)
        Pieces replaced and held (at least those replaced are counted).
    kept_survival, new_survival : array_like of float, shape (..., n_lines)
        Chance that one piece outlasts the horizon.
    other_calls : array_like of float, shape (...)
        Expected calls for which no part is to blame (their number taken as Poisson).

    Returns
    -------
    ndarray of float, shape (...)
        In [0, 1].

    Raises
    ------
    InvalidParameter
        If a survival lies outside 0 to 1.

    Examples
    --------
    >>> round(float(callback_share([1.0], [2.0], [0.9], [1.0], 0.0)), 4)
    0.0975
    """
    replaced = np.asarray(replaced_pcs, dtype=float)
    held = np.maximum(np.asarray(held_pcs), replaced)
    share = np.divide(replaced, held, out=np.zeros(replaced.shape), where=held > 0)
    kept = require.share("kept_survival", kept_survival)
    quiet = share * require.share("new_survival", new_survival) + (1 - share) * kept
    log_quiet = held * np.log(np.maximum(quiet, np.finfo(float).tiny))
    return -np.expm1(log_quiet.sum(axis=-1) - np.asarray(other_calls))
