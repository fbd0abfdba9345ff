"""Jobs vary together: one factor a job, standard normal, that moves its use of every part up or down on the logit.

A rough machine takes more of everything. The share of jobs that use a part stays what it is: only how the uses of
one job hang together changes.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.sparse import csr_array
from scipy.special import expit, log_expit, logit

from pipeline.errors import InvalidParameter
from pipeline.kernels import require

# Equally spaced, not Gauss-Hermite: a job of a hundred parts tells its own factor to within 0.2, which falls between
# the points of any Hermite rule of moderate size; for a smooth integrand that dies out the equal rule is as exact.
_STEP = 0.1
FACTOR = np.arange(-65, 66) * _STEP
FACTOR_WEIGHT = np.exp(-(FACTOR**2) / 2) / np.exp(-(FACTOR**2) / 2).sum()
MOST_LOADING = 4.0
LOADING_GRID = np.linspace(0, MOST_LOADING, 41)
COARSE = 8  # every so many loadings are asked first, which finds the top
NO_WEIGHT = 40.0  # log likelihood below the top at which a loading counts for nothing: 4e-18
CERTAIN = 1e-9
TABLE = np.linspace(-1, 1, 161) * logit(1 - CERTAIN)


@dataclass(frozen=True)
class Loading:
    """How strongly the uses of one job hang together.

    Attributes
    ----------
    loading : float
        Standard deviation of the factor on the logit of every use: the most likely one.
    low, high : float
        Interval that holds it with the level asked.
    log_likelihood : ndarray of float, shape (n_grid,)
        At each of ``LOADING_GRID``, its largest 0; interpolated where it lies more than 40 below, which counts for
        nothing.
    jobs : int
        Jobs asked.
    """

    loading: float
    low: float
    high: float
    log_likelihood: np.ndarray
    jobs: int

    @property
    def expected(self):
        """Mean under a belief before that halves by 1.2 (half-normal, of standard deviation 1): for few jobs, too."""
        weight = np.exp(self.log_likelihood - LOADING_GRID**2 / 2)
        weight[0] /= 2  # trapezoids: the grid begins where loadings do
        return float(weight @ LOADING_GRID / weight.sum())


def intercepts(share, loading):
    """Logit of use at a factor of 0 under which the share averaged over the factor is as given.

    Parameters
    ----------
    share : array_like of float, shape (...)
        Share of jobs that use each part, 0 to 1.
    loading : float
        Standard deviation of the factor on the logit, 0 to 4.

    Returns
    -------
    ndarray of float, shape (...)
        Shares within 1e-9 of 0 or 1 are taken as that far from it.

    Raises
    ------
    InvalidParameter
        If a share lies outside [0, 1] or the loading outside 0 to 4.

    Notes
    -----
    Newton's rule and halving together, all different shares at once; the average of the logistic over a normal has
    no closed form.

    Examples
    --------
    >>> intercepts([0.5, 0.2], 0.0).round(6)
    array([ 0.      , -1.386294])
    """
    share = np.clip(require.share("share", share), CERTAIN, 1 - CERTAIN)
    loading = checked_loading(loading)
    values, place = np.unique(share, return_inverse=True)
    return _solved(values, loading, _start(values, loading))[place].reshape(share.shape)


def intercepts_by_table(share, loading):
    """Return :func:`intercepts` to 1e-5 for millions of shares: a cubic spline between solved ones.

    Parameters
    ----------
    share, loading
        As there.

    Returns
    -------
    ndarray of float, shape (...)

    Raises
    ------
    InvalidParameter
        As there.

    Examples
    --------
    >>> intercepts_by_table([0.5, 0.2], 0.0).round(4)
    array([ 0.    , -1.3863])
    """
    share = np.clip(require.share("share", share), CERTAIN, 1 - CERTAIN)
    return _spline(checked_loading(loading))(logit(share))


def fit_loading(is_used, share, level=0.8):
    """Find how strongly the uses of one job hang together, from jobs seen and the shares expected of them.

    Parameters
    ----------
    is_used : array_like of bool, shape (n_jobs, n_parts)
        Whether each job used each part.
    share : array_like of float, shape (n_jobs, n_parts)
        Share expected of the job and part; not a number where the part does not come into question.
    level : float
        Probability inside the interval, between 0 and 1.

    Returns
    -------
    Loading
        Loading 0: uses of one job are independent. The interval is that of equal tails of the likelihood scaled to
        sum to 1 over loadings 0 to 4, a belief before that favours none of them; without a job it is 0.4 to 3.6 at
        80 %. Equal tails leave out the end itself: where no factor shows, the most likely loading is 0, below ``low``.

    Raises
    ------
    InvalidParameter
        If shapes differ or a share lies outside [0, 1].

    Notes
    -----
    Marginal likelihood by quadrature over the factor of each job, the intercept of every share solved anew at each
    loading, so that a loading cannot mend a share that is off on average. Shares off job by job in the same direction
    are seen as a factor: what the parts of one job have in common is what is asked.

    References
    ----------
    Stiratelli, Laird & Ware (1984), Biometrics 40, 961-971 (logistic models with a normal random effect).
    """
    is_used, share = np.asarray(is_used, dtype=bool), np.asarray(share, dtype=float)
    if is_used.shape != share.shape or share.ndim != 2:
        raise InvalidParameter(f"is_used has shape {is_used.shape}, share {share.shape}; wanted jobs by parts, alike.")
    outside = (1 - require.share("level", level)) / 2
    is_asked = ~np.isnan(share)
    values, place = np.unique(require.share("share", share[is_asked]), return_inverse=True)
    job, is_not = np.nonzero(is_asked)[0], ~is_used[is_asked]
    shape = len(share), values.size
    asked, not_used = _counts(job, place, shape), _counts(job[is_not], place[is_not], shape)
    likelihood = _where_it_matters(lambda loading: _log_likelihood(asked, not_used, values, loading))
    likelihood = likelihood - likelihood.max()
    return Loading(*_summary(likelihood, outside), likelihood, len(share))


def draw_uses(share, loading, n_draws, rng):
    """Draw which parts jobs use, the uses of one job hanging together.

    Parameters
    ----------
    share : array_like of float, shape (..., n_parts)
        Share of jobs that use each part; leading axes are jobs, each with a factor of its own.
    loading : float
        Standard deviation of the factor on the logit, 0 to 4.
    n_draws : int
        Draws.
    rng : numpy.random.Generator
        Source of the draws.

    Returns
    -------
    ndarray of bool, shape (n_draws, ..., n_parts)

    Raises
    ------
    InvalidParameter
        As for :func:`intercepts`.
    """
    at_zero = intercepts(share, loading)
    factor = rng.standard_normal((n_draws, *at_zero.shape[:-1], 1))
    return rng.random((n_draws, *at_zero.shape)) < expit(at_zero + loading * factor)


def checked_loading(loading):
    """Return a loading as a float.

    Raises
    ------
    InvalidParameter
        If it lies outside 0 to 4.
    """
    loading = float(require.not_negative("loading", loading))
    if loading > MOST_LOADING:
        raise InvalidParameter(f"loading is {loading:g}; wanted at most {MOST_LOADING:g}.")
    return loading


def _start(values, loading):
    """Where to begin: close by where there are few shares, from a table of solved ones where there are many."""
    if values.size <= 2 * TABLE.size:
        return logit(values) * np.sqrt(1 + 0.346 * loading**2)  # as if logistic were normal, of variance 1 / 0.346
    return _spline(loading)(logit(values))


@lru_cache(maxsize=2 * LOADING_GRID.size)  # the same loadings are asked fit after fit
def _spline(loading):
    return CubicSpline(TABLE, _solved(expit(TABLE), loading, _start(expit(TABLE), loading)))


def _solved(values, loading, middle):
    """Intercepts of all shares, by Newton's rule, and by halving where that leaves the bracket."""
    low, high = logit(values) - loading * FACTOR[-1], logit(values) + loading * FACTOR[-1]
    for _ in range(60):
        chance = expit(middle[:, None] + loading * FACTOR)
        miss = chance @ FACTOR_WEIGHT - values
        if (np.abs(miss) <= 1e-10 * np.minimum(values, 1 - values) + 1e-14).all():
            break
        low, high = np.where(miss < 0, middle, low), np.where(miss < 0, high, middle)
        step = middle - miss / np.maximum((chance * (1 - chance)) @ FACTOR_WEIGHT, 1e-300)
        middle = np.where((step >= low) & (step <= high), step, (low + high) / 2)
    return middle


def _counts(job, place, shape):
    """How often each share stands in each job: many parts of many jobs have few different shares."""
    return csr_array((np.ones(job.size), (job, place)), shape=shape)


def _where_it_matters(log_likelihood):
    """Log likelihood on the grid: reckoned from the top down to what counts for nothing, a few points beyond."""
    found = {place: log_likelihood(LOADING_GRID[place]) for place in range(0, LOADING_GRID.size, COARSE)}
    while True:
        least = max(found.values()) - NO_WEIGHT
        wanted = {near for place, value in found.items() if value >= least for near in (place - 1, place + 1)
                  if 0 <= near < LOADING_GRID.size} - found.keys()
        if not wanted:
            break
        found |= {place: log_likelihood(LOADING_GRID[place]) for place in sorted(wanted)}
    places = sorted(found)
    made = PchipInterpolator(LOADING_GRID[places], [found[place] for place in places])(LOADING_GRID)
    made[places] = [found[place] for place in places]
    return made


def _log_likelihood(asked, not_used, values, loading):
    """Log probability of all jobs, each averaged over its factor."""
    at_zero = intercepts(values, loading)
    of_job = asked @ log_expit(at_zero[:, None] + loading * FACTOR)
    # The log of the chance not to use is that of the chance to use less the logit.
    of_job -= (not_used @ at_zero)[:, None] + not_used.sum(axis=1)[:, None] * loading * FACTOR
    top = of_job.max(axis=1, keepdims=True)
    return float((np.log(np.exp(of_job - top) @ FACTOR_WEIGHT) + top[:, 0]).sum())


def _summary(likelihood, outside):
    """Most likely loading and the interval, from the likelihood on the grid made smooth."""
    fine = np.linspace(0, MOST_LOADING, 4001)
    smooth = CubicSpline(LOADING_GRID, likelihood)(fine)
    weight = np.exp(smooth - smooth.max())
    below = (np.cumsum(weight) - weight / 2) / weight.sum()
    low, high = np.interp([outside, 1 - outside], below, fine)
    return float(fine[np.argmax(smooth)]), float(low), float(high)
