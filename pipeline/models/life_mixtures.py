"""Where failures at random are mixed with wear-out: how many, and whether that is sure enough to say so."""

import numpy as np
import pandas as pd

from pipeline.kernels.mixed_hazard import mixed_hazard

# A Bayes factor of 3 is where evidence starts to be positive on the usual scale (Kass & Raftery 1995); of pure
# Weibull lives 4 in 100 pass it. Below five failures two or three early ones are enough for it, and the share at
# random is as good as its prior.
BAYES_FACTOR = 3.0
FEWEST_FAILURES = 5
WARNING = (
    "Failures at random are mixed with wear-out: replacing on age helps only against the wear-out part. Worn pieces "
    "that nobody noticed fail early, too, and look like failures at random."
)


def mixtures(guesses, watched, effect):
    """Share of failures at random for every class and clock with failures enough.

    Parameters
    ----------
    guesses : dict of str to pandas.DataFrame
        Guesses of ``new`` and of ``kept`` pieces; rows numbered as ``group`` of ``watched``.
    watched : pandas.DataFrame
        ``part_was``, ``kind``, ``group``, ``time``, ``is_failed``, ``pieces``.
    effect : ndarray of float, shape (n_kinds,)
        Effect of the judgement on the logarithm of life: kept pieces are brought to the life of unjudged ones.

    Returns
    -------
    pandas.DataFrame
        ``part_was``, ``group``, ``random_share`` (by the median life) with its 80 % interval ``random_share_low`` and
        ``random_share_high``, ``mixes`` (better than one Weibull life).
    """
    found = [_of(was, guesses[was], watched, effect * (was == "kept")) for was in guesses]
    return pd.concat(found, ignore_index=True)


def _of(was, guesses, watched, effect):
    lives = watched[watched["part_was"] == was]
    failures = np.bincount(lives["group"], lives["pieces"] * lives["is_failed"], len(guesses))
    groups = np.flatnonzero(failures >= FEWEST_FAILURES)
    lives = lives[lives["group"].isin(groups)]
    mixed = mixed_hazard(
        lives["time"] * np.exp(-effect[lives["kind"].to_numpy(dtype=int)]),
        lives["is_failed"],
        guesses.loc[groups, ["median", "log_median_sd", "shape", "log_shape_sd"]].to_numpy().reshape(-1, 4),
        np.searchsorted(groups, lives["group"].to_numpy(dtype=int)),
        lives["pieces"],
    )
    return pd.DataFrame(
        {
            "part_was": was,
            "group": groups,
            "random_share": mixed.share_mean,
            "random_share_low": mixed.share_low,
            "random_share_high": mixed.share_high,
            "mixes": mixed.log_bayes_factor > np.log(BAYES_FACTOR),
        }
    )
