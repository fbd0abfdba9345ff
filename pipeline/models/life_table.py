"""The table of lives: first guess, records alone and the two together, apart; and where failures are of two kinds."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.stats import norm

from pipeline.kernels.shared_effects import SharedEffects
from pipeline.kernels.weibull import weibull_fit
from pipeline.kernels.weibull_posterior import WeibullPosterior
from pipeline.models import judgement, life_mixtures

KEYS = ["wear_class", "part_was", "judged", "clock"]
COLUMNS = (
    "wear_class part_was clock pieces_watched failures median median_low median_high shape prior_weight_share "
    "judged shape_low shape_high guess_from guess_median guess_low guess_high data_median data_low data_high "
    "data_note decides random_share random_share_low random_share_high mixes warning"
).split()
REACH = float(norm.ppf(0.9))
_ENDS = (("", 0.5), ("_low", 0.1), ("_high", 0.9))
GUESS_DECIDES, RECORDS_DECIDE = 0.5, 0.2


@dataclass(frozen=True)
class Believed:
    """What :func:`pipeline.models.lives.fit` found, from which the table is written.

    Attributes
    ----------
    new, kept : WeibullPosterior
    points : ndarray of float, shape (n_effect_draws, 4)
        As in :class:`pipeline.models.lives.Lives`.
    found : SharedEffects
        Effects of the judgement.
    left_share : ndarray of float, shape (n_groups,)
        What kept pieces left of the variance of the guess for new ones.
    """

    new: WeibullPosterior
    kept: WeibullPosterior
    points: np.ndarray
    found: SharedEffects
    left_share: np.ndarray


def table(of_new, of_kept, watched, believed):
    """Write the output table ``lives``.

    Parameters
    ----------
    of_new, of_kept : pandas.DataFrame
        Guesses, one row per wear class and clock, in one order.
    watched : pandas.DataFrame
        ``part_was``, ``judged``, ``kind``, ``group`` (class and clock), ``time``, ``is_failed``, ``pieces``.
    believed : Believed

    Returns
    -------
    pandas.DataFrame
        One row per wear class, ``part_was``, ``judged`` (empty for new pieces) and clock; lives in plays or months,
        intervals of 80 %. ``median`` and ``shape``: belief after the records. ``guess_median``: the guess.
        ``data_median``: maximum likelihood from the lives of the row alone, empty with the reason in ``data_note``
        where there is none. ``prior_weight_share``: what the records left of the guess's variance; ``decides`` says
        it in words. ``random_share``: failures at random by the median life, judged and unjudged pieces together,
        where failures are five at least; ``mixes`` where that is better than one Weibull life, with a ``warning``.
    """
    rows = _rows(of_new, of_kept)
    made = pd.concat([_new_columns(of_new, believed), _kept_columns(of_kept, believed)], ignore_index=True)
    made = pd.concat([rows, made, _of_records(rows, watched)], axis=1)
    mixed = life_mixtures.mixtures({"new": of_new, "kept": of_kept}, watched, believed.found.mean)
    made = made.merge(mixed, how="left", on=["part_was", "group"])
    made["mixes"] = made["mixes"].eq(True)
    made["warning"] = np.where(made["mixes"], life_mixtures.WARNING, "")
    made["decides"] = np.select(
        [made["prior_weight_share"] > GUESS_DECIDES, made["prior_weight_share"] < RECORDS_DECIDE],
        ["the guess still decides", "the records decide"],
        "guess and records",
    )
    made = made.sort_values(["wear_class", "is_kept", "group", "kind"], ignore_index=True)
    return made[COLUMNS]


def judgements(found):
    """What being left in place after each kind of look tells.

    Parameters
    ----------
    found : SharedEffects
        In the order of ``judgement.JUDGED``.

    Returns
    -------
    pandas.DataFrame
        Columns as in :class:`pipeline.models.lives.Lives`.
    """
    sd = np.sqrt(np.diag(found.covariance))
    return pd.DataFrame(
        {
            "judged": judgement.JUDGED,
            "pieces_watched": found.pieces.round().astype(int),
            "failures": found.failures.round().astype(int),
            "life_factor": np.exp(found.mean),
            "life_factor_low": np.exp(found.mean - REACH * sd),
            "life_factor_high": np.exp(found.mean + REACH * sd),
            "guess_factor": np.exp(judgement.effect_prior()[0]),
        }
    )


def _rows(of_new, of_kept):
    """New rows by class and clock, then kept rows by class, clock and judgement."""
    n_kinds = len(judgement.JUDGED)
    new = of_new[["wear_class", "part_was", "clock", "guess_from"]].assign(
        judged="", is_kept=False, kind=0, group=np.arange(len(of_new))
    )
    kept = of_kept[["wear_class", "part_was", "clock", "guess_from"]]
    kept = kept.loc[kept.index.repeat(n_kinds)].assign(
        judged=np.tile(judgement.JUDGED, len(of_kept)),
        is_kept=True,
        kind=np.tile(np.arange(n_kinds), len(of_kept)),
        group=np.repeat(np.arange(len(of_kept)), n_kinds),
    )
    return pd.concat([new, kept], ignore_index=True)


def _new_columns(of_new, believed):
    new = believed.new
    return pd.DataFrame(
        {
            **_guessed(of_new["median"], of_new["log_median_sd"]),
            **{f"median{end}": new.median_quantile(share) for end, share in _ENDS},
            **{f"shape{end}": new.shape_quantile(share) for end, share in _ENDS},
            "prior_weight_share": believed.left_share * np.minimum(new.prior_weight_share, 1.0),
        }
    )


def _kept_columns(of_kept, believed):
    n_groups, n_points = len(of_kept), len(believed.points)
    mean, sd = judgement.effect_prior()
    guess_sd = of_kept["log_median_sd"].to_numpy()[:, None]
    both_variance = guess_sd**2 + sd**2
    share = np.minimum(believed.kept.prior_weight_share, 1.0).reshape(n_points, n_groups).mean(axis=0)
    left = share[:, None] * guess_sd**2 + np.minimum(np.diag(believed.found.covariance), sd**2)
    median = of_kept["median"].to_numpy()[:, None] * np.exp(mean)
    columns = _guessed(median.ravel(), np.sqrt(both_variance).ravel())
    columns["prior_weight_share"] = (left / both_variance).ravel()
    columns |= {f"median{end}": values.ravel() for end, values in _kept_medians(believed, n_groups)}
    columns |= {f"shape{end}": values.ravel() for end, values in _kept_shapes(believed, n_groups)}
    return pd.DataFrame(columns)


def _guessed(median, sd):
    reach = np.exp(REACH * sd)
    return {"guess_median": median, "guess_low": median / reach, "guess_high": median * reach}


def _kept_medians(believed, n_groups):
    """Ends of the median's interval over all draws of the effects, (n_groups, n_kinds) each."""
    points, kept = believed.points, believed.kept
    log_median = kept.log_median.reshape(len(points), n_groups, 1, -1) + points[:, None, :, None]
    weight = np.broadcast_to(kept.probability.sum(axis=2).reshape(len(points), n_groups, 1, -1), log_median.shape)
    return _pooled(np.moveaxis(log_median, 0, 2), np.moveaxis(weight, 0, 2))


def _kept_shapes(believed, n_groups):
    points, kept = believed.points, believed.kept
    log_shape, weight = (
        np.repeat(values.reshape(len(points), n_groups, 1, -1), points.shape[1], axis=2)
        for values in (kept.log_shape, kept.probability.sum(axis=1))
    )
    return _pooled(np.moveaxis(log_shape, 0, 2), np.moveaxis(weight, 0, 2))


def _pooled(values, weight):
    """Exponentials of quantiles of weighted points over the last two axes."""
    shape = values.shape[:2]
    values, weight = values.reshape(-1, values.shape[2] * values.shape[3]), weight.reshape(len(values) * shape[1], -1)
    order = np.argsort(values, axis=1)
    values, weight = (np.take_along_axis(each, order, axis=1) for each in (values, weight))
    running = np.cumsum(weight, axis=1)
    middle = (running - weight / 2) / running[:, -1:]
    for end, share in _ENDS:
        found = [np.interp(share, at, value) for at, value in zip(middle, values, strict=True)]
        yield end, np.exp(np.reshape(found, shape))


def _of_records(rows, watched):
    """Pieces, failures, and the maximum-likelihood median of each row's own lives."""
    number = rows.reset_index(names="row")[["row", "part_was", "group", "kind"]]
    lives = watched.merge(number, on=["part_was", "group", "kind"])
    fit = weibull_fit(lives["time"], lives["is_failed"], lives["row"], len(rows), lives["pieces"])
    # log median = log scale + log(log 2) / shape
    bend = np.log(np.log(2)) / fit.shape
    variance = fit.log_scale_error**2 + (bend * fit.log_shape_error) ** 2 - 2 * bend * fit.log_covariance
    reach = np.exp(REACH * np.sqrt(np.maximum(variance, 0.0)))
    return pd.DataFrame(
        {
            "pieces_watched": fit.pieces.round().astype(int),
            "failures": fit.failures.round().astype(int),
            "data_median": fit.median,
            "data_low": fit.median / reach,
            "data_high": fit.median * reach,
            "data_note": np.where(fit.pieces > 0, fit.reason, "nothing watched"),
        }
    )
