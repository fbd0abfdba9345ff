"""Failures at random beside wear-out: said where failures are enough, kept pieces of all judgements together."""

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose

from pipeline.models import judgement, life_mixtures

GUESS = pd.DataFrame({"median": [100.0, 100.0], "log_median_sd": 0.7, "shape": 3.0, "log_shape_sd": 0.3})
NO_EFFECT = np.zeros(len(judgement.JUDGED))


def _watched(time, group=0, kind=0, was="kept", end=110.0):
    time = np.asarray(time, dtype=float)
    return pd.DataFrame({"part_was": was, "group": group, "kind": kind, "time": np.minimum(time, end),
                         "is_failed": time < end, "pieces": 1.0})  # fmt: skip


def _mixed(n, share, seed=1, k=6.0):
    rng = np.random.default_rng(seed)
    random = rng.exponential(1, n) * 100 / (np.log(2) * max(share, 1e-12))
    worn = 100 * (rng.exponential(1, n) / (np.log(2) * (1 - share))) ** (1 / k)
    return np.minimum(random, worn)


def _found(watched, effect=NO_EFFECT):
    return life_mixtures.mixtures({"new": GUESS, "kept": GUESS}, watched, effect)


def test_a_mixture_is_said_and_pure_wear_out_is_not():
    watched = pd.concat([_watched(_mixed(120, 0.5), group=0), _watched(_mixed(120, 0.0, k=3.0), group=1)])
    found = _found(watched).set_index("group")
    assert found["mixes"].tolist() == [True, False]
    assert found.loc[0, "random_share_low"] < 0.5 < found.loc[0, "random_share_high"]
    assert found.loc[1, "random_share"] < 0.2


def test_below_five_failures_nothing_is_said():
    assert _found(_watched([1.0, 2, 3, 4, 200])).empty
    assert len(_found(_watched([1.0, 2, 3, 4, 5, 200]))) == 1


def test_new_and_kept_pieces_are_apart():
    watched = pd.concat([_watched(_mixed(60, 0.5)), _watched(_mixed(60, 0.0, k=3.0), was="new")])
    found = _found(watched).set_index("part_was")
    assert found.loc["kept", "random_share"] > 0.3 > found.loc["new", "random_share"]


def test_kept_pieces_are_brought_to_one_life_first():
    # two judgements whose lives differ by a factor of four look like a mixture unless that is allowed for
    kind = judgement.JUDGED.index("worn")
    time = _mixed(80, 0.0, k=4.0)
    watched = pd.concat([_watched(time[:40]), _watched(time[40:] / 4, kind=kind, end=110.0)])
    effect = np.where(np.arange(len(NO_EFFECT)) == kind, -np.log(4), 0.0)
    raw, brought = _found(watched), _found(watched, effect)
    assert raw["random_share"].iloc[0] > brought["random_share"].iloc[0] + 0.1
    assert not brought["mixes"].iloc[0]


def test_without_lives_the_columns_are_there():
    found = _found(_watched([]))
    assert found.empty
    assert list(found) == ["part_was", "group", "random_share", "random_share_low", "random_share_high", "mixes"]


def test_pieces_count_as_so_many():
    once = _found(_watched([1.0, 1, 20, 20, 60, 90, 200]))
    together = _watched([1.0, 20, 60, 90, 200]).assign(pieces=[2.0, 2, 1, 1, 1])
    assert_allclose(_found(together)["random_share"], once["random_share"])
