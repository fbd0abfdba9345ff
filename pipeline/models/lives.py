"""How long pieces last after delivery: the owner's guess, the shop's own call-backs, and the two together."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.kernels.shared_effects import shared_effects
from pipeline.kernels.weibull_posterior import WeibullPosterior, weibull_posterior
from pipeline.models import judgement, life_clock, life_guesses, life_table, lives_watched
from pipeline.models.life_table import KEYS
from pipeline.store import read

# Whoever guesses the life of kept pieces too short guesses that of new ones too short as well: correlation
# between the errors (logarithms) of the two guesses.
GUESS_CORRELATION = 0.8
_N_MEDIANS, _N_SHAPES = 41, 25  # steps of under 0.3 standard deviations
_PRIOR = ["median", "log_median_sd", "shape", "log_shape_sd"]


@dataclass(frozen=True)
class Lives:
    """Fitted lives, one row per wear class, ``part_was``, how a kept piece was judged, and clock.

    Attributes
    ----------
    table : pandas.DataFrame
        The output table ``lives``: see :func:`pipeline.models.life_table.table`; its last column ``plays_share`` is
        the chance that a class ages by plays rather than by months, the same on all rows of a class. A row is
        believed if its class ages by its clock; pieces of machines whose plays are known stand under both clocks, so
        counts of the two are never to be added up.
    new : WeibullPosterior
        One group per wear class and clock, as they follow each other in ``table``.
    kept : WeibullPosterior
        Of kept pieces nobody judged, in the same order, once for each draw of the effects: group number is draw times
        number of classes and clocks, plus class and clock.
    effects : ndarray of float, shape (n_effect_draws, 4)
        Equally likely effects of the judgement on the logarithm of life, in the order of ``judgement.JUDGED``.
    left_out : int
        Call-backs with a part that could not be used: after the watch, before delivery, or of a job whose
        replaced pieces nobody wrote down.
    judgements : pandas.DataFrame
        What being left in place after each kind of look tells: ``judged``, ``pieces_watched``, ``failures``,
        ``life_factor`` against unjudged pieces with its 80 % interval ``life_factor_low`` and ``life_factor_high``,
        ``guess_factor``.
    """

    table: pd.DataFrame
    new: WeibullPosterior
    kept: WeibullPosterior
    effects: np.ndarray
    left_out: int
    judgements: pd.DataFrame | None = None

    def row(self, wear_class, part_was, clock, judged):
        """Row numbers of classes (arrays of equal length) in ``table``; ``judged`` is empty for new pieces."""
        asked = {"wear_class": wear_class, "part_was": part_was, "judged": judged, "clock": clock}
        index = pd.MultiIndex.from_frame(self.table[KEYS])
        return index.get_indexer(pd.MultiIndex.from_arrays([asked[key] for key in KEYS]))

    def draws(self, rng, n_draws):
        """Draw lives, the same effects of judgement throughout one draw.

        Kept pieces of one class and clock share their draw but for the effect, so good, unjudged and worn ones stand
        in the order that the draw of the effects says; classes, clocks, and new and kept pieces are independent.

        Parameters
        ----------
        rng : numpy.random.Generator
            Source of randomness.
        n_draws : int
            Draws per row.

        Returns
        -------
        scale, shape : ndarray of float, shape (n_rows, n_draws)
            Weibull parameters in the rows of ``table``; scale in plays or months.
        """
        n_points, is_kept = len(self.effects), (self.table["part_was"] == "kept").to_numpy()
        each = -(-n_draws // n_points)
        order = rng.permutation(n_points * each)[:n_draws]
        kept = [
            values.reshape(n_points, -1, each).swapaxes(0, 1).reshape(-1, n_points * each)[:, order]
            for values in self.kept.draws(rng, each)
        ]
        new = self.new.draws(rng, n_draws)
        effect = np.repeat(self.effects, each, axis=0)[order].T
        place = _place(self.table)
        drawn = []
        for of_new, of_kept in zip(new, kept, strict=True):
            values = np.empty((len(self.table), n_draws))
            values[~is_kept], values[is_kept] = of_new[place[~is_kept]], of_kept[place[is_kept]]
            drawn.append(values)
        kind = self.table.loc[is_kept, "judged"].map(judgement.JUDGED.index).to_numpy(dtype=int)
        drawn[0][is_kept] *= np.exp(effect[kind])
        return tuple(drawn)


    def clock_draws(self, rng, n_draws):
        """Draw for each wear class whether it ages by plays.

        Parameters
        ----------
        rng : numpy.random.Generator
            Source of randomness.
        n_draws : int
            Draws per class.

        Returns
        -------
        ndarray of bool, shape (n_classes, n_draws)
            Classes sorted. The share of draws is within one draw of ``plays_share``; classes are independent of each
            other and of :meth:`draws`.
        """
        share = self.table.groupby("wear_class")["plays_share"].first().sort_index()
        return life_clock.even_draws(rng, share, n_draws)


def fit(connection):
    """Fit the lives of new and of kept pieces, each from delivery, with what call-backs have shown.

    Kept pieces are told apart by how they were judged before they were left in place
    (:mod:`pipeline.models.judgement`). Accelerated failure time: kept pieces of one class and clock share one shape,
    and being judged good lengthens life by a factor common to all classes and both clocks. Classes are compared each
    within itself, per piece and per time watched on its clock. That differs from comparing scopes raw (call-backs
    per thorough job against those per fix-only job), which mixes in which classes are left in place, how many
    pieces, new ones beside kept ones, and how long and how hard the machines were played; nothing of that is read
    as an effect of scope. Nor is the factor what a thorough job does to a piece: it is what having passed its look
    tells about a piece.

    What ages a class is not known, so each clock is fitted as one hypothesis: in plays the machines whose plays are
    known, in months every machine. Which is the better is asked of the lives that both can tell
    (:mod:`pipeline.models.life_clock`). The effects of the judgement are read from each life once, in plays where
    these are known.

    Parameters
    ----------
    connection : duckdb.DuckDBPyConnection
        An opened store.

    Returns
    -------
    Lives
        Every class that a part of the shop belongs to, on both clocks.
    """
    settings = read.settings(connection)
    guesses = life_guesses.guesses(connection)
    watched, left_out = lives_watched.watched(connection, settings)
    both = lives_watched.on_both_clocks(watched)
    played = _numbered(guesses, both[both["is_played"]])
    once, watched = _numbered(guesses, watched), _numbered(guesses, both)
    of_kept, of_new = (guesses[guesses["part_was"] == was].reset_index(drop=True) for was in ("kept", "new"))
    found, points = _effects(of_kept, once[once["part_was"] == "kept"])
    kept, new, left_share = _believed(of_kept, of_new, watched, points)
    believed = life_table.Believed(new, kept, points, found, left_share)
    table = life_table.table(of_new, of_kept, watched, believed)
    table["plays_share"] = table["wear_class"].map(_plays_share(of_kept, of_new, played, found.mean))
    return Lives(table, new, kept, points, left_out, life_table.judgements(found))


def _believed(of_kept, of_new, lives, points):
    """Belief about kept pieces for each draw of the effects, about new ones, and what that left of their guess."""
    kept_lives, new_lives = (lives[lives["part_was"] == was] for was in ("kept", "new"))
    kept = _kept(of_kept, kept_lives, points)
    return kept, *_new(of_new, new_lives, of_kept, kept)


def _plays_share(of_kept, of_new, played, effect):
    """Chance that each class ages by plays, from lives told on both clocks, at the mean effects of the judgement."""
    # the effects stretch a life by the same factor on both clocks, which leaves their comparison as it is
    kept, new, _ = _believed(of_kept, of_new, played, effect[None])
    return life_clock.plays_share(of_new, kept.log_evidence + new.log_evidence, played)


def _numbered(guesses, watched):
    """Equal lives together, with the number of their class and clock and of how they were judged."""
    number = guesses[guesses["part_was"] == "new"].reset_index()[["wear_class", "clock"]].reset_index(names="group")
    keys = ["wear_class", "part_was", "judged", "clock", "time", "is_failed"]
    together = watched[(watched["pieces"] > 0) & (watched["time"] > 0)].groupby(keys, as_index=False)["pieces"].sum()
    together = together.merge(number, on=["wear_class", "clock"])
    kinds = {name: place for place, name in enumerate(judgement.JUDGED)}
    return together.assign(kind=together["judged"].map(kinds).fillna(0).astype(int))


def _effects(guesses, lives):
    """Effects of the judgement as found, and draws of them."""
    mean, sd = judgement.effect_prior()
    found = shared_effects(
        lives["time"],
        lives["is_failed"],
        guesses[_PRIOR],
        lives["group"],
        lives["kind"],
        np.stack([mean, sd], axis=1),
        lives["pieces"],
    )
    # good first: the coordinate whose margin the points follow most evenly
    order = np.argsort([name != "good" for name in judgement.JUDGED], kind="stable")
    order = order[sd[order] > 0]
    root = np.linalg.cholesky(found.covariance[np.ix_(order, order)])
    points = np.tile(found.mean, (16, 1))
    points[:, order] += judgement.normal_points(order.size) @ root.T
    return found, points


def _kept(guesses, lives, points):
    """Belief about kept pieces nobody judged, once for each draw of the effects."""
    draw = np.repeat(np.arange(len(points)), len(lives))
    time, kind = np.tile(lives["time"], len(points)), np.tile(lives["kind"], len(points))
    return weibull_posterior(
        time * np.exp(-points[draw, kind]),
        np.tile(lives["is_failed"], len(points)),
        np.tile(guesses[_PRIOR], (len(points), 1)),
        np.tile(lives["group"], len(points)) + draw * len(guesses),
        np.tile(lives["pieces"], len(points)),
        n_medians=_N_MEDIANS,
        n_shapes=_N_SHAPES,
    )


def _new(guesses, lives, of_kept, kept):
    """Belief about new pieces, their guess moved by what kept ones showed; and what that left of the guess."""
    by_draw = np.log(kept.median_quantile(0.5)).reshape(-1, len(of_kept))
    shift = by_draw.mean(axis=0) - np.log(of_kept["median"].to_numpy())
    kept_share = np.minimum(kept.prior_weight_share, 1.0).reshape(-1, len(of_kept)).mean(axis=0)
    left_share = 1 - GUESS_CORRELATION**2 * (1 - kept_share)
    moved = guesses.assign(
        median=guesses["median"] * np.exp(GUESS_CORRELATION * shift),
        log_median_sd=guesses["log_median_sd"] * np.sqrt(left_share),
    )
    new = weibull_posterior(
        lives["time"],
        lives["is_failed"],
        moved[_PRIOR],
        lives["group"],
        lives["pieces"],
        n_medians=_N_MEDIANS,
        n_shapes=_N_SHAPES,
    )
    return new, left_share


def _place(table):
    """Number of class and clock of every row, counted apart in new and kept pieces."""
    place = np.empty(len(table), dtype=int)
    for was in ("new", "kept"):
        rows = (table["part_was"] == was).to_numpy()
        place[rows] = pd.factorize(pd.MultiIndex.from_frame(table.loc[rows, ["wear_class", "clock"]]))[0]
    return place
