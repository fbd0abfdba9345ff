"""Whether pieces of a wear class age by plays or by the calendar: what the shop's own call-backs tell of it."""

import numpy as np
from scipy.special import expit, logit


def plays_share(guesses, log_evidence, lives):
    """Posterior chance of every wear class that it ages by plays rather than by months.

    Both clocks have told the same lives: those of machines whose plays are known. A density of a time changes with
    its unit and that of its logarithm does not, so the two are compared in densities of log time: each failure's
    density per play, or per month, times its own time.

    Parameters
    ----------
    guesses : pandas.DataFrame
        ``wear_class``, ``clock`` (``plays`` or ``months``), ``plays_share`` (chance before the records, the same on
        both rows of a class); each class once on each clock.
    log_evidence : array_like of float, shape (n_rows,)
        Logarithm of the lives' likelihood averaged over the belief, densities per play or per month, in the rows of
        ``guesses``.
    lives : pandas.DataFrame
        The lives told: ``group`` (row of ``guesses``), ``time`` on its clock, ``is_failed``, ``pieces``.

    Returns
    -------
    pandas.Series
        Chance, 0 to 1, by ``wear_class``, sorted.

    References
    ----------
    Bayes factors: Kass & Raftery (1995), Journal of the American Statistical Association 90, 773-795.

    Examples
    --------
    One failure after 200 plays in half a month. One per month is as dense as 1 / 400 per play; three times that:

    >>> import pandas as pd
    >>> guesses = pd.DataFrame({"wear_class": "coil", "clock": ["plays", "months"], "plays_share": 0.5})
    >>> lives = pd.DataFrame({"group": [0, 1], "time": [200.0, 0.5], "is_failed": True, "pieces": 1.0})
    >>> round(float(plays_share(guesses, [np.log(3 / 400), 0.0], lives)["coil"]), 3)
    0.75
    """
    failures = np.where(lives["is_failed"], lives["pieces"], 0.0)
    log_times = np.bincount(lives["group"], failures * np.log(lives["time"]), len(guesses))
    told = guesses.assign(log_evidence=np.asarray(log_evidence) + log_times)
    by_clock = told.pivot(index="wear_class", columns="clock", values="log_evidence")
    prior = told.groupby("wear_class")["plays_share"].first()
    return expit(logit(prior) + by_clock["plays"] - by_clock["months"]).rename("plays_share")


def even_draws(rng, share, n_draws):
    """Draw yes or no for each chance, evenly, so that few draws represent it well.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of randomness.
    share : array_like of float, shape (n,)
        Chances of yes, 0 to 1.
    n_draws : int
        Draws of each.

    Returns
    -------
    ndarray of bool, shape (n, n_draws)
        The share of yes is within one draw of the chance; rows are independent.
    """
    share = np.asarray(share, dtype=float)[:, None]
    even = (np.arange(n_draws) + rng.random((len(share), 1))) / n_draws
    return rng.permuted(even, axis=1) < share
