"""What a job takes: the chance that each fitting is used, and how many pieces then."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from pipeline.demo import catalogue
from pipeline.demo.world import FAMILIES, SCOPES, stream

# Chance that one piece turns out bad, by wear class (order of catalogue.WEAR_CLASSES) and scope.
BAD = {
    "fix_only": (0.010, 0.016, 0.022, 0.010, 0.012, 0.021, 0.035, 0.06, 0.012, 0.09, 0.013, 0.016, 0.02, 0.007, 0.004,
                 0.004, 0.002, 0.008),
    "refresh": (0.017, 0.05, 0.045, 0.03, 0.04, 0.055, 0.3, 0.4, 0.035, 0.2, 0.03, 0.022, 0.027, 0.03, 0.012, 0.05,
                0.02, 0.022),
    "thorough": (0.045, 0.3, 0.12, 0.12, 0.12, 0.16, 0.3, 0.35, 0.25, 0.3, 0.2, 0.04, 0.05, 0.09, 0.05, 0.25, 0.06,
                 0.06),
}
# Share of the other pieces that go with the first bad one.
SPREAD = (0.12, 0.3, 0.1, 0.2, 0.2, 0.12, 0.4, 0.16, 0.16, 0.2, 0.3, 0.05, 0.15, 0.15, 0.1, 0.2, 0.1, 0.05)
# Chance that the action planned for the fitting means a new piece whatever its state.
POLICY = {"replace": 0.9, "make": 0.2, "recondition": 0.1, "clean": 0.02, "keep": 0.0}
REFRESH_POLICY = {"replace": 0.16, "make": 0.0, "recondition": 0.02, "clean": 0.0, "keep": 0.0}
FIX_POLICY = {"replace": 0.17, "make": 0.0, "recondition": 0.05, "clean": 0.0, "keep": 0.0}
# Sets and dear things differ from their class.
PART_FACTOR = {"plastics-old": 2.5, "plastics-mid": 2.5, "plastics-late": 2.2, "ramp-formed": 1.5, "glass-top": 0.5,
               "decals-cabinet": 1.6, "terminal-crimp": 1.5, "channel-metal": 0.6, "speaker": 0.7, "relay": 1.4,
               "diode-lamp": 0.6, "bridge": 1.3}
BIG = 12  # fittings of more pieces than this are hardly ever done to the last piece


@dataclass(frozen=True)
class Fitted:
    """The fittings of one family as arrays of shape (n_fittings,), scopes along a second axis where named so.

    ``intercept``: log-odds of use at roughness 0; ``share``: the same averaged over roughness; ``policy``: share of
    uses that are policy; ``spread``: share of the other pieces that follow the first. ``rules``: (trigger fitting,
    added fitting, share) of the companion rules that can act.
    """

    family: str
    assembly: np.ndarray
    part: np.ndarray
    pieces: np.ndarray
    wear: np.ndarray
    share: np.ndarray
    intercept: np.ndarray
    policy: np.ndarray
    spread: np.ndarray
    rules: tuple[tuple[int, int, float], ...]


@lru_cache(maxsize=64)
def fitted(seed, world, family):
    """Return the true use of a family's fittings (Fitted); every family draws its own deviations."""
    fits = catalogue.fittings(family)
    f = FAMILIES.index(family)
    counts = {a.assembly: a.counts[f] for a in catalogue.assemblies()}
    part = np.array([catalogue.part_index()[fit.part] for fit in fits])
    wear = np.array([catalogue.WEAR_CLASSES.index(catalogue.parts()[p].wear_class) for p in part])
    pieces = np.array([fit.qty_pcs * counts[fit.assembly] for fit in fits])
    share, policy = _shares(stream(seed, "truth", f), world, fits, wear, pieces)
    spread = np.array(SPREAD)[wear][:, None] * np.array([0.45, 0.7, 1.0])
    return Fitted(family, np.array([fit.assembly for fit in fits]), part, pieces, wear, share,
                  _intercepts(share, world.work), policy, spread, _rules(fits))


@lru_cache(maxsize=64)
def fitted_after(seed, world, family):
    """Return the true use of a family's fittings once the owner's habit has changed (Fitted).

    The log-odds of a use by policy move by ``changes.policy_log_odds`` in refresh and thorough jobs, averaged over
    roughness; the chance that a piece not replaced by policy turns out bad stays.
    """
    fit = fitted(seed, world, family)
    factor = np.exp(world.changes.policy_log_odds) * np.array([0.0, 1.0, 1.0]) + np.array([1.0, 0.0, 0.0])
    always = fit.policy * fit.share
    bad = (fit.share - always) / (1 - always)
    always = always * factor / (1 - always + always * factor)
    share = 1 - (1 - bad) * (1 - always)
    return replace(fit, share=share, intercept=_intercepts(share, world.work), policy=always / share)


def fitted_on(seed, world, family, planned_day):
    """Return the true use of a family's fittings in jobs planned to start on a day of the records (Fitted)."""
    changes = world.changes
    if changes.policy_log_odds == 0 or planned_day < world.day_after(changes.policy_after_share):
        return fitted(seed, world, family)
    return fitted_after(seed, world, family)


def _shares(rng, world, fits, wear, pieces):
    bad = np.stack([np.array(BAD[scope])[wear] for scope in SCOPES], axis=1)
    bad = np.minimum(bad * np.array([PART_FACTOR.get(fit.part, 1.0) for fit in fits])[:, None], 0.9)
    bad = 1 - (1 - bad) ** np.sqrt(pieces)[:, None]
    always = np.array([[FIX_POLICY[fit.fix_only_action],
                        max(REFRESH_POLICY[fit.thorough_action], 0.85 * (fit.fix_only_action == "replace")),
                        POLICY[fit.thorough_action]] for fit in fits])
    share = 1 - (1 - bad) * (1 - always)
    by_class = rng.normal(0, world.work.use_spread, (len(catalogue.WEAR_CLASSES), 1))[wear]
    own = rng.normal(0, world.work.use_spread, share.shape)
    odds = share / (1 - share) * np.exp(0.7 * by_class + 0.7 * own)
    return odds / (1 + odds), always / share


def roughness_nodes(work):
    """Return points and weights that average over the roughness of a job (ndarray, ndarray)."""
    if work.roughness_law == "two_kinds":
        # One wreck in five: mean 0, variance 1.
        return np.array([-0.5, 2.0]), np.array([0.8, 0.2])
    nodes, weights = np.polynomial.hermite_e.hermegauss(41)
    return nodes, weights / weights.sum()


def draw_roughness(rng, work):
    """Return one job's roughness (float, mean 0, variance 1)."""
    if work.roughness_law == "two_kinds":
        return float(rng.choice([-0.5, 2.0], p=[0.8, 0.2]))
    return float(rng.normal())


def _intercepts(share, work):
    # Bisection on the log-odds, so that the average over roughness is the share itself.
    nodes, weights = roughness_nodes(work)
    low, high = np.full(share.shape, -14.0), np.full(share.shape, 14.0)
    for _ in range(50):
        middle = (low + high) / 2
        mean = (logistic(middle[..., None] + work.roughness_sd * nodes) * weights).sum(-1)
        low, high = np.where(mean < share, middle, low), np.where(mean < share, high, middle)
    return (low + high) / 2


def logistic(x):
    """Return the inverse of the log-odds (ndarray in 0 to 1)."""
    return 1 / (1 + np.exp(-x))


def _rules(fits):
    place = {(fit.assembly, fit.part): i for i, fit in enumerate(fits)}
    wear = {fit.part: catalogue.parts()[catalogue.part_index()[fit.part]].wear_class for fit in fits}
    found = []
    for trigger, adds, share, assembly in catalogue.COMPANIONS:
        for i, fit in enumerate(fits):
            if fit.assembly == assembly and trigger in (fit.part, wear[fit.part]) and (assembly, adds) in place:
                found.append((i, place[assembly, adds], share))
    return tuple(found)


def draw_needs(rng, fit, scope, roughness, work):
    """Draw what one job takes.

    Returns
    -------
    qty_pcs : ndarray of int, shape (n_fittings,)
        Pieces that end up used.
    reason : ndarray of str, shape (n_fittings,)
        Why, empty where none is used.
    """
    s = SCOPES.index(scope)
    used = rng.random(len(fit.part)) < logistic(fit.intercept[:, s] + work.roughness_sd * roughness)
    policy = rng.random(len(fit.part)) < fit.policy[:, s]
    more = rng.binomial(fit.pieces - 1, _spread(fit, s, policy))
    qty = np.where(used, 1 + more, 0)
    reason = np.where(used, np.where(policy, "policy", "failed"), "").astype("U16")
    odd = rng.random(len(fit.part))
    reason[(reason == "failed") & (odd < _broken(fit))] = "broken_in_work"
    reason[(reason == "failed") & (odd > 0.975)] = "no_cure" if s == 0 else "upgrade"
    for (trigger, added, share), chance in zip(fit.rules, rng.random(len(fit.rules)), strict=True):
        if qty[trigger] and not qty[added] and chance < share:
            qty[added], reason[added] = min(qty[trigger], fit.pieces[added]), "companion"
    return qty, reason


def _spread(fit, s, policy):
    return np.where(policy, np.where(fit.pieces <= BIG, 1.0, 0.8), fit.spread[:, s])


def _broken(fit):
    brittle = [catalogue.WEAR_CLASSES.index(name) for name in ("moulding", "cosmetic", "lamp")]
    return np.where(np.isin(fit.wear, brittle), 0.12, 0.0)


def expected(fit, scope, roughness, work):
    """Return the chance of use and the mean pieces of each fitting at given roughness, companions counted.

    Parameters
    ----------
    fit : Fitted
    scope : str
    roughness : ndarray, shape (k,)

    Returns
    -------
    used_share, mean_pcs : ndarray, shape (n_fittings, k)
    """
    s = SCOPES.index(scope)
    used = logistic(fit.intercept[:, s, None] + work.roughness_sd * np.asarray(roughness))
    policy = fit.policy[:, s]
    if_used = (1 + (fit.pieces - 1) * (policy * _spread(fit, s, True) + (1 - policy) * fit.spread[:, s]))[:, None]
    mean = used * if_used
    for trigger, added, share in fit.rules:
        extra = (1 - used[added]) * used[trigger] * share
        used[added] = used[added] + extra
        mean[added] = mean[added] + extra * if_used[trigger]
    return used, mean


@lru_cache(maxsize=128)
def by_part(seed, world, family, scope):
    """Return the true use of each part of a family in a scope, averaged over roughness and at three values of it.

    Returns
    -------
    dict of int to tuple of float
        Part index to (share of jobs using it, the same at roughness -1, 0 and 1, mean pieces per job).
    """
    return _by_part(fitted(seed, world, family), scope, world.work)


def by_part_after(seed, world, family, scope):
    """Return what `by_part` does, once the owner's habit has changed."""
    return _by_part(fitted_after(seed, world, family), scope, world.work)


def _by_part(fit, scope, work):
    nodes, weights = roughness_nodes(work)
    points = np.concatenate([nodes, [-1.0, 0.0, 1.0]])
    used, mean = expected(fit, scope, points, work)
    result = {}
    for part in dict.fromkeys(fit.part.tolist()):
        mine = fit.part == part
        share = 1 - np.prod(1 - used[mine], axis=0)
        pcs = float((mean[mine].sum(0)[:len(nodes)] * weights).sum())
        result[part] = (float((share[:len(nodes)] * weights).sum()), *map(float, share[-3:]), pcs)
    return result
