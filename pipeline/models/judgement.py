"""What a look at the bench tells of a piece left in place: names, first guesses, and draws of its effect on life."""

import numpy as np
from scipy.stats import norm

# How a piece was judged that was left in place: what its job's findings say, else how far the job looked.
# Somebody who left it in after a thorough job found it good; in a fix-only job nobody looked; a refresh is between.
BY_SCOPE = {"fix_only": "unjudged", "refresh": "partly", "thorough": "good"}
BY_FINDING = {"worn_pcs": "worn", "unknown_pcs": "unjudged", "good_pcs": "good"}
# In the order in which call-backs are charged to them where one part was left in several conditions.
WORST_FIRST = ("worn", "unjudged", "partly", "good")
JUDGED = ("unjudged", "partly", "good", "worn")
# Effect on the logarithm of life against pieces nobody judged, and its standard deviation: from memory, no source.
# Were a quarter of unjudged pieces worn, with a third of a good one's life left at a shape of 1.7, the first failures
# would come as from one Weibull life 0.5 below good pieces and 0.6 above worn ones; half the worn ones found: 0.2.
# The spreads leave room for no effect at all in partly and good, and for twice as much.
EFFECTS = {"partly": (0.2, 0.3), "good": (0.5, 0.4), "worn": (-0.6, 0.5)}


def effect_prior():
    """First guess of the effects in the order of `JUDGED`.

    Returns
    -------
    mean, sd : ndarray of float, shape (4,)
        Of the logarithm of life; both 0 for unjudged pieces, which the guesses of life are about.
    """
    rows = np.array([EFFECTS.get(name, (0.0, 0.0)) for name in JUDGED])
    return rows[:, 0], rows[:, 1]


def normal_points(n_dimensions=3):
    """Sixteen points that stand for a standard normal: mean, covariance and evenly spread margins.

    Each margin has about one point in each sixteenth of the probability; the points lie in opposite pairs, and are
    stretched and turned a little (by 0.004) so that their covariance is exactly 1.

    Parameters
    ----------
    n_dimensions : int
        At most 3.

    Returns
    -------
    ndarray of float, shape (16, n_dimensions)

    References
    ----------
    Latin hypercube in opposite pairs, covariance mended: Owen (1994), Journal of the American Statistical
    Association 89, 1517-1522; Iman & Conover (1982), Communications in Statistics B 11, 311-334.
    """
    pair = np.arange(8)
    rank = np.stack([(pair * step + start) % 8 for step, start in ((1, 0), (7, 5), (7, 1))], axis=1)
    sign = 1 - 2 * (pair[:, None] >> np.arange(3) & 1)
    half = sign * norm.ppf((rank + 8.5) / 16)
    points = np.concatenate([half, -half])[:, :n_dimensions]
    return np.linalg.solve(np.linalg.cholesky(points.T @ points / len(points)), points.T).T
