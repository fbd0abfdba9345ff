"""What fails after delivery: pieces kept, treated or new, over the belief about lives and about use."""

from dataclasses import dataclass

import numpy as np

from pipeline.kernels.life_left import life_left_gained
from pipeline.kernels.renewal_function import renewals_of_many_lives
from pipeline.kernels.weibull import mean_and_sd, survival
from pipeline.models.lives_watched import MONTH_DAYS

N_DRAWS = 160
# Machines of one setting are not played alike: games per month are lognormal around the shop's figure.
LOG_USE_SD = 0.4
_MOST_SEEN = 64  # answers kept: machines of one setting ask for the same

NEW = "new"
KEPT = ("worn", "unjudged", "good")  # what a kept piece was found to be, the worst first
# How far a treated piece's life moves from that of its like towards a new one's, on the logarithmic scale: from
# memory, no source. Records of pieces that were cleaned and came back would tell, and nobody writes them.
TREATED = {"clean": 0.25, "recondition": 0.5}
# Hours of a treatment over those of replacing the piece: from memory, no source.
TREATMENT_HOURS = {"clean": 0.5, "recondition": 1.5}
# Every life a piece can have after the work: its state, and what was done to it.
KINDS = ((NEW, ""), *((state, "") for state in KEPT), *((state, action) for action in TREATED for state in KEPT))
KIND = {kind: place for place, kind in enumerate(KINDS)}


@dataclass(frozen=True)
class Failures:
    """One piece of each asked kind and class over one horizon; arrays of shape (n_draws, n_asked).

    Attributes
    ----------
    expected : ndarray of float
        Expected failures, each followed by a new piece.
    survival : ndarray of float
        Chance that the piece outlasts the horizon.
    life_gained : ndarray of float
        Life that a new piece in its place would have left at the horizon beyond its own, in lives of a new piece.
    """

    expected: np.ndarray
    survival: np.ndarray
    life_gained: np.ndarray


class Outlook:
    """Draws of lives, clocks and use, shared by all machines so that options and machines compare like with like.

    Whether a class ages by plays or by the calendar is drawn, too. All lives are told in months of the machine asked
    about: where plays age the class and the machine has a counter, its life in plays over what such a machine is
    played a month; else its life in months.

    Parameters
    ----------
    lives : pipeline.models.lives.Lives
        Fitted lives.
    settings : pipeline.store.read.Settings
        The shop's; its plays per month by setting are used.
    rng : numpy.random.Generator
        Source of randomness.
    """

    def __init__(self, lives, settings, rng):
        self.classes = sorted(set(lives.table["wear_class"]))
        scale, shape = lives.draws(rng, N_DRAWS)
        self._lives = {clock: _by_kind(lives, self.classes, clock, scale, shape) for clock in ("plays", "months")}
        self._plays = settings.plays_per_month_home, settings.plays_per_month_route
        self._use = np.exp(LOG_USE_SD * rng.standard_normal(N_DRAWS) - LOG_USE_SD**2 / 2)
        self._setting = (rng.permutation(N_DRAWS) + 0.5) / N_DRAWS
        self._is_by_plays = lives.clock_draws(rng, N_DRAWS).T
        self._seen = {}

    def failures(self, route_share, is_clock_plays, horizon_days, kind, wear_class):
        """Failures of one piece of each asked kind and class within a horizon after delivery.

        Parameters
        ----------
        route_share : float
            Chance that the machine stands on route; not a number is taken as at home.
        is_clock_plays : bool
            Whether the machine's plays are known. A machine without a counter is taken to be played as others of its
            setting are; where nobody wrote that down either, all its lives are counted in months.
        horizon_days : float
            Days after delivery.
        kind : array_like of int, shape (n_asked,)
            Places in `KINDS`.
        wear_class : array_like of int, shape (n_asked,)
            Places in ``classes``.

        Returns
        -------
        Failures
            Columns as asked; not to be changed: an answer asked again is the same one.
        """
        kind, wear_class = np.asarray(kind, dtype=int), np.asarray(wear_class, dtype=int)
        is_told = bool(is_clock_plays or not np.isnan(route_share))
        key = float(np.nan_to_num(route_share)), is_told, horizon_days, kind.tobytes(), wear_class.tobytes()
        if key not in self._seen:
            if len(self._seen) >= _MOST_SEEN:
                self._seen.pop(next(iter(self._seen)))
            self._seen[key] = self._failures(route_share, is_clock_plays, horizon_days, kind, wear_class)
        return self._seen[key]

    def _failures(self, route_share, is_clock_plays, horizon_days, kind, wear_class):
        scale, shape, new_scale, new_shape = self.lives(route_share, is_clock_plays, kind, wear_class)
        time = np.broadcast_to(self.time(horizon_days)[:, None], scale.shape)
        expected = renewals_of_many_lives(time, new_scale, new_shape, scale, shape)
        of_new = _of_new(expected, kind, wear_class, len(self.classes))
        if of_new is None:
            of_new = renewals_of_many_lives(time, new_scale, new_shape, new_scale, new_shape)
        own_mean, new_mean = mean_and_sd(scale, shape)[0], mean_and_sd(new_scale, new_shape)[0]
        return Failures(
            expected=expected,
            survival=survival(time, scale, shape),
            life_gained=life_left_gained(time, own_mean, new_mean, expected, of_new),
        )

    def lives(self, route_share, is_clock_plays, kind, wear_class):
        """Draws of lives of the asked kinds and classes, as for :meth:`failures`.

        Returns
        -------
        scale, shape, new_scale, new_shape : ndarray of float, shape (n_draws, n_asked)
            Of the piece itself, and of the new ones that follow it; scales in months.
        """
        kind, wear_class = np.asarray(kind, dtype=int), np.asarray(wear_class, dtype=int)
        per_month = self._plays_per_month(route_share)[:, None]
        is_told = is_clock_plays or not np.isnan(route_share)
        is_by_plays = self._is_by_plays[:, wear_class] & is_told & (per_month > 0)
        rate = np.where(is_by_plays, per_month, 1.0)
        found = []
        for places in (kind, np.full(wear_class.shape, KIND[NEW, ""])):
            in_plays, in_months = (self._lives[clock] for clock in ("plays", "months"))
            scale, shape = (np.where(is_by_plays, by_plays[:, places, wear_class], by_months[:, places, wear_class])
                            for by_plays, by_months in zip(in_plays, in_months, strict=True))
            found += [scale / rate, shape]
        return tuple(found)

    def time(self, horizon_days):
        """Months by the horizon, as for :meth:`failures`: (n_draws,)."""
        return np.full(N_DRAWS, horizon_days / MONTH_DAYS)

    def _plays_per_month(self, route_share):
        """Plays a month of a machine of unknown or known setting: (n_draws,)."""
        home, route = self._plays
        return np.where(self._setting < float(np.nan_to_num(route_share)), route, home) * self._use


def _by_kind(lives, classes, clock, scale, shape):
    """Scale and shape of every kind and class on one clock, each (n_draws, n_kinds, n_classes)."""
    own = [(NEW, "")] + [("kept", state) for state in KEPT]
    rows = [lives.row(classes, *([word] * len(classes) for word in (was, clock, judged))) for was, judged in own]
    log_scale, log_shape = (np.log(np.moveaxis(values[np.stack(rows)], -1, 0)) for values in (scale, shape))
    treated = [
        [of[:, 1 + place] * (1 - step) + of[:, 0] * step for step in TREATED.values() for place in range(len(KEPT))]
        for of in (log_scale, log_shape)
    ]
    return tuple(
        np.exp(np.concatenate([own_kind, np.stack(more, axis=1)], axis=1))
        for own_kind, more in zip((log_scale, log_shape), treated, strict=True)
    )


def _of_new(expected, kind, wear_class, n_classes):
    """Failures of a new piece of each asked class, where all of them were asked for anyway."""
    place = np.full(n_classes, -1)
    is_new = kind == KIND[NEW, ""]
    place[wear_class[is_new]] = np.flatnonzero(is_new)
    found = place[wear_class]
    return None if (found < 0).any() else expected[:, found]
