"""What one machine's pieces will do after delivery: failures and survival of every life they can have."""

from dataclasses import dataclass

import numpy as np

from pipeline.decisions.scope_outlook import KEPT, KIND, KINDS, NEW, TREATED

OWNER_DAYS = 5 * 365.25


@dataclass(frozen=True)
class Prospect:
    """One machine over one horizon; arrays of shape (n_draws, n_kinds, n_classes), one piece each.

    Attributes
    ----------
    expected, log_survival, life_gained : ndarray of float
        As in :class:`pipeline.decisions.scope_outlook.Failures`; 0 where the machine has no such piece.
    wear : ndarray of int, shape (n_lines,)
        Place of each line's wear class.
    """

    expected: np.ndarray
    log_survival: np.ndarray
    life_gained: np.ndarray
    wear: np.ndarray

    def total(self, values, pcs, weight):
        """Sum over pieces: ``values`` (n_draws, n_kinds, n_classes) for ``pcs`` (n_lines, n_kinds) times ``weight``.

        Parameters
        ----------
        values : ndarray of float
            One of the three arrays.
        pcs : ndarray of float, shape (n_lines, n_kinds)
            Pieces of each line with each life.
        weight : ndarray of float, shape (n_lines,)
            What one counts for.

        Returns
        -------
        ndarray of float, shape (n_draws,)
        """
        by_class = np.zeros((values.shape[2], values.shape[1]))
        np.add.at(by_class, self.wear, pcs * weight[:, None])
        return np.einsum("dkc,ck->d", values, by_class)

    def mean_of_lines(self, values):
        """Mean over the belief of ``values`` of each line: (n_lines, n_kinds)."""
        return values.mean(axis=0)[:, self.wear].T


def ends(subject, horizon_days=OWNER_DAYS):
    """Days by which failures are counted: the warranty's, and the horizon's, which no warranty outlasts.

    Parameters
    ----------
    subject : pipeline.decisions.scope_subject.Subject
    horizon_days : float

    Returns
    -------
    warranty_days, horizon_days : float
    """
    return subject.warranty_days, max(horizon_days, subject.warranty_days)


def prospect(shop, subject, lines, horizon_days):
    """What a machine's pieces will do within a horizon.

    Parameters
    ----------
    shop : pipeline.decisions.scope_shop.Shop
    subject : pipeline.decisions.scope_subject.Subject
    lines : pandas.DataFrame
        The subject's lines, or some of them.
    horizon_days : float
        Days after delivery.

    Returns
    -------
    Prospect
    """
    wear = np.searchsorted(shop.outlook.classes, lines["wear_class"])
    kind, wear_class = _asked(lines, wear)
    seen = shop.outlook.failures(subject.route_share, subject.is_clock_plays, horizon_days, kind, wear_class)
    shape = (len(seen.expected), len(KINDS), len(shop.outlook.classes))
    spread = {name: np.zeros(shape) for name in ("expected", "log_survival", "life_gained")}
    spread["expected"][:, kind, wear_class] = seen.expected
    spread["log_survival"][:, kind, wear_class] = np.log(np.maximum(seen.survival, np.finfo(float).tiny))
    spread["life_gained"][:, kind, wear_class] = seen.life_gained
    return Prospect(**spread, wear=wear)


def _asked(lines, wear):
    """Kinds and classes that the machine can have: every state of what it holds, treated where its list says so."""
    pairs = {(KIND[state, ""], place) for state in (NEW, *KEPT) for place in set(wear.tolist())}
    for action in TREATED:
        is_listed = ((lines["fix_only_action"] == action) | (lines["thorough_action"] == action)).to_numpy()
        pairs |= {(KIND[state, action], place) for state in KEPT for place in set(wear[is_listed].tolist())}
    kind, wear_class = np.array(sorted(pairs), dtype=int).reshape(-1, 2).T
    return kind, wear_class
