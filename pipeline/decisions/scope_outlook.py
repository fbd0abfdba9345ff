"""What fails after delivery: expected failures of kept and of new pieces, over the belief about lives and about use."""

from dataclasses import dataclass

import numpy as np

from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.weibull import survival
from pipeline.models.lives_watched import MONTH_DAYS

N_DRAWS = 160
# Machines of one setting are not played alike: games per month are lognormal around the shop's figure.
LOG_USE_SD = 0.4
_STEPS = 12  # with the kernel's extrapolation: failures of a five-year horizon to about 1e-5


@dataclass(frozen=True)
class Failures:
    """One horizon, one machine; arrays of shape (n_draws, n_classes), one piece each.

    Attributes
    ----------
    kept, new : ndarray of float
        Expected failures of a piece that is kept, and of one that is replaced now.
    kept_survival, new_survival : ndarray of float
        Chance that it outlasts the horizon.
    """

    kept: np.ndarray
    new: np.ndarray
    kept_survival: np.ndarray
    new_survival: np.ndarray


class Outlook:
    """Draws of lives and of use, shared by all machines so that options and machines compare like with like.

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
        self._scale, self._shape = lives.draws(rng, N_DRAWS)
        self._rows = {
            (was, clock): lives.row(self.classes, *([each] * len(self.classes) for each in (was, clock, judged)))
            for was, judged in (("new", ""), ("kept", "unjudged"))
            for clock in ("plays", "months")
        }
        self._plays = settings.plays_per_month_home, settings.plays_per_month_route
        self._use = np.exp(LOG_USE_SD * rng.standard_normal(N_DRAWS) - LOG_USE_SD**2 / 2)
        self._setting = (rng.permutation(N_DRAWS) + 0.5) / N_DRAWS
        self._seen = {}

    def failures(self, route_share, is_clock_plays, horizon_days):
        """Failures of one piece of every class within a horizon after delivery.

        Parameters
        ----------
        route_share : float
            Chance that the machine stands on route; not a number is taken as at home.
        is_clock_plays : bool
            Whether lives are counted in plays; months otherwise.
        horizon_days : float
            Days after delivery.

        Returns
        -------
        Failures
            Columns in the order of ``classes``.
        """
        share = float(np.nan_to_num(route_share))
        key = (share if is_clock_plays else None, horizon_days)
        if key not in self._seen:
            self._seen[key] = self._failures(share, "plays" if is_clock_plays else "months", horizon_days)
        return self._seen[key]

    def _failures(self, route_share, clock, horizon_days):
        months = np.full(N_DRAWS, horizon_days / MONTH_DAYS)
        home, route = self._plays
        per_month = np.where(self._setting < route_share, route, home) * self._use
        time = months * per_month if clock == "plays" else months
        new, kept = self._rows["new", clock], self._rows["kept", clock]
        scale, shape = self._scale[new].T, self._shape[new].T
        kept_scale, kept_shape = self._scale[kept].T, self._shape[kept].T
        time = time[:, None]
        return Failures(
            kept=weibull_renewals(time, scale, shape, kept_scale, kept_shape, steps=_STEPS),
            new=weibull_renewals(time, scale, shape, steps=_STEPS),
            kept_survival=survival(time, kept_scale, kept_shape),
            new_survival=survival(time, scale, shape),
        )
