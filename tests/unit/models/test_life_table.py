"""Guess, records and belief beside each other: intervals, words, and draws that agree with the table."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from pipeline.kernels.weibull import weibull_fit
from pipeline.models import judgement, life_table, lives, lives_watched
from pipeline.store import read
from tests.support import hand_shop

HEAD = "job family scope booked_on delivered_on status setting plays_quality"


def _shop(n_jobs=120, seed=3, factors=None, shape=1.8, median=3000.0):
    """Sleeves and coils left in place by every scope and finding, failing by lives that are known."""
    factors = factors or {"fix_only": 1.0, "refresh": 1.3, "thorough": 1.7, "worn": 0.5}
    rng = np.random.default_rng(seed)
    jobs, used, found = [HEAD], ["job part qty_pcs"], ["job assembly part qty_pcs condition action"]
    calls = ["job reported_on part part_was"]
    for n in range(n_jobs):
        scope = ("fix_only", "refresh", "thorough")[n % 3]
        is_worn = scope == "thorough" and n % 2 == 0
        jobs.append(f"G{n} ss {scope} 2025-01-01 2025-03-01 delivered route read")
        used.append(f"G{n} knob 1")
        if is_worn:
            found.append(f"G{n} flip sleeve 6 worn keep")
        for part, pieces in (("sleeve", 6), ("coil", 3)):
            factor = factors["worn" if is_worn and part == "sleeve" else scope]
            days = np.ceil(median * factor * (rng.exponential(1, pieces) / np.log(2)) ** (1 / shape) / 600
                           * lives_watched.MONTH_DAYS)  # fmt: skip
            calls += [f"G{n} {np.datetime64('2025-03-01') + int(day)} {part} kept" for day in days[days < 180]]
    return {
        "shop": "key value\ntoday 2026-07-01\ncallback_watch_days 180\nplays_per_month_route 600",
        "families": "family name\nss Solid-state",
        "parts": "part description wear_class\ncoil Coil coil\nsleeve Sleeve sleeve\nknob Knob -",
        "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3",
        "family_assemblies": "family assembly count\nss flip 3",
        "assembly_parts": "assembly part qty_pcs\nflip coil 1\nflip sleeve 2",
        "wear": "wear_class median_plays_kept shape weight_jobs\nsleeve 4000 1.6 1\ncoil 2500 1.6 1",
        "jobs": "\n".join(jobs),
        "job_parts": "\n".join(used),
        "findings": "\n".join(found),
        "callbacks": "\n".join(calls),
    }


@pytest.fixture(scope="module")
def shop():
    with hand_shop.store(**_shop()) as connection:
        return lives.fit(connection), lives_watched.watched(connection, read.settings(connection))[0]


@pytest.fixture(scope="module")
def fitted(shop):
    return shop[0]


def _rows(fitted, wear_class="sleeve", clock="plays"):
    table = fitted.table
    return table[
        (table["wear_class"] == wear_class) & (table["part_was"] == "kept") & (table["clock"] == clock)
    ].set_index("judged")


def test_the_contracts_columns_come_first_and_in_its_order(fitted):
    contract = "wear_class part_was clock pieces_watched failures median median_low median_high shape".split()
    assert list(fitted.table)[:10] == [*contract, "prior_weight_share"]
    assert list(fitted.table)[10] == "judged"
    assert list(fitted.table)[-2:] == ["warning", "plays_share"]


def test_every_class_and_clock_has_one_row_new_and_one_for_each_judgement(fitted):
    sizes = fitted.table.groupby(["wear_class", "clock", "part_was"]).size().unstack()
    assert (sizes["new"] == 1).all()
    assert (sizes["kept"] == len(judgement.JUDGED)).all()
    assert (fitted.table.loc[fitted.table["part_was"] == "new", "judged"] == "").all()


def test_true_effects_and_lives_are_found(fitted):
    found = fitted.judgements.set_index("judged")
    for judged, factor in (("partly", 1.3), ("good", 1.7), ("worn", 0.5)):
        assert found.loc[judged, "life_factor_low"] < factor < found.loc[judged, "life_factor_high"]
        for wear_class in ("sleeve", "coil"):
            row = _rows(fitted, wear_class).loc[judged]
            assert_allclose(row["median"], 3000 * factor, rtol=0.3)
    assert found.loc["unjudged", ["life_factor", "life_factor_low", "life_factor_high"]].tolist() == [1, 1, 1]


def test_a_class_learns_of_a_judgement_it_never_had(fitted):
    # worn coils were never seen; worn sleeves were: common effect, wider interval than unjudged coils have
    row, unjudged = (_rows(fitted, "coil").loc[judged] for judged in ("worn", "unjudged"))
    assert (row["pieces_watched"], row["data_note"]) == (0, "nothing watched")
    assert_allclose(row["median"], 1500, rtol=0.35)
    assert row["median_high"] / row["median_low"] > unjudged["median_high"] / unjudged["median_low"]
    assert row["prior_weight_share"] < 0.5


def test_kept_pieces_of_one_class_share_their_shape(fitted):
    assert _rows(fitted)[["shape", "shape_low", "shape_high"]].nunique().tolist() == [1, 1, 1]
    assert_allclose(_rows(fitted)["shape"].iloc[0], 1.8, rtol=0.12)


def test_the_guess_stands_apart_with_its_own_interval(fitted):
    mean, sd = judgement.effect_prior()
    rows = _rows(fitted, clock="plays").loc[list(judgement.JUDGED)]
    assert_allclose(rows["guess_median"], 4000 * np.exp(mean))
    # one failure's worth at a shape of 1.6
    spread = np.sqrt(1.168 / 1.6**2 + sd**2)
    assert_allclose(np.log(rows["guess_high"] / rows["guess_low"]), 2 * 1.28155 * spread, rtol=1e-4)
    assert set(rows["guess_from"]) == {"owner"}


def test_the_records_alone_are_the_maximum_likelihood_of_the_rows_own_lives(shop):
    fitted, watched = shop
    for wear_class, judged in (("sleeve", "worn"), ("sleeve", "good"), ("coil", "unjudged")):
        own = watched[(watched["wear_class"] == wear_class) & (watched["judged"] == judged)]
        alone = weibull_fit(own["time"], own["is_failed"], pieces=own["pieces"])
        row = _rows(fitted, wear_class).loc[judged]
        assert_allclose(row["data_median"], alone.median[0], rtol=1e-6)
        assert row["data_low"] < row["data_median"] < row["data_high"]
        assert (row["failures"], row["data_note"]) == (alone.failures[0], "")


def test_the_interval_of_the_records_is_that_of_many_shops_like_it():
    rng = np.random.default_rng(5)
    n_shops, n = 400, 60
    life = 100 * (rng.exponential(1, n_shops * n) / np.log(2)) ** (1 / 1.8)
    rows = pd.DataFrame({"part_was": "kept", "group": np.arange(n_shops), "kind": 0})
    watched = pd.DataFrame({"part_was": "kept", "group": np.repeat(rows["group"], n).to_numpy(), "kind": 0,
                            "time": np.minimum(life, 90), "is_failed": life < 90, "pieces": 1.0})  # fmt: skip
    found = life_table._of_records(rows, watched)
    assert 0.76 < ((found["data_low"] < 100) & (100 < found["data_high"])).mean() < 0.84


def test_where_records_have_no_maximum_the_reason_is_given(fitted):
    rows = fitted.table[fitted.table["pieces_watched"] == 0]
    assert rows["data_median"].isna().all()
    assert set(rows["data_note"]) == {"nothing watched"}
    quiet = fitted.table[(fitted.table["failures"] == 0) & (fitted.table["pieces_watched"] > 0)]
    assert set(quiet["data_note"]) == {"no failures"}
    assert ((fitted.table["data_note"] == "") == fitted.table["data_median"].notna()).all()


def test_one_failure_at_the_end_of_the_watch_has_no_finite_maximum():
    tables = _shop(1)
    tables["callbacks"] = "job reported_on part part_was\nG0 2025-08-28 sleeve kept"
    with hand_shop.store(**tables) as connection:
        row = _rows(lives.fit(connection)).loc["unjudged"]
    assert (row["failures"], row["data_note"]) == (1, "no finite maximum")
    assert np.isnan(row["data_median"])


def test_what_decides_is_said_and_agrees_with_the_share(fitted):
    decides = fitted.table["decides"]
    share = fitted.table["prior_weight_share"]
    assert share.between(0, 1).all()
    assert (share[decides == "the guess still decides"] > 0.5).all()
    assert (share[decides == "the records decide"] < 0.2).all()
    assert share[decides == "guess and records"].between(0.2, 0.5).all()
    assert set(decides) >= {"the guess still decides", "the records decide"}


def test_a_warning_stands_where_failures_at_random_are_mixed_in(fitted):
    assert not fitted.table["mixes"].any()
    assert (fitted.table["warning"] == "").all()
    # worn fix-only pieces that nobody told from the others: early failures, then a steep wear-out
    rng = np.random.default_rng(6)
    tables = _shop(90, shape=7.0, median=2000.0, factors=dict.fromkeys(("fix_only", "refresh", "thorough", "worn"), 1))
    early = [f"G{n} {np.datetime64('2025-03-01') + int(rng.integers(1, 100))} sleeve kept" for n in range(90)]
    tables["callbacks"] += "\n" + "\n".join(early)
    with hand_shop.store(**tables) as connection:
        rows = _rows(lives.fit(connection))
    assert rows["mixes"].all()
    assert rows["warning"].str.contains("only against the wear-out part").all()
    assert rows["random_share"].nunique() == 1


def test_intervals_lie_about_the_middle(fitted):
    table = fitted.table
    for stem in ("median", "shape"):
        assert ((table[f"{stem}_low"] < table[stem]) & (table[stem] < table[f"{stem}_high"])).all()
    assert ((table["guess_low"] < table["guess_median"]) & (table["guess_median"] < table["guess_high"])).all()


def test_draws_agree_with_the_table(fitted):
    scale, shape = fitted.draws(np.random.default_rng(1), 4000)
    median = scale * np.log(2) ** (1 / shape)
    for column, share in (("median_low", 0.1), ("median", 0.5), ("median_high", 0.9)):
        assert_allclose(np.quantile(median, share, axis=1), fitted.table[column], rtol=0.08)
    assert_allclose(np.median(shape, axis=1), fitted.table["shape"], rtol=0.03)


def test_draws_keep_judgements_of_all_classes_together(fitted):
    scale, shape = fitted.draws(np.random.default_rng(2), 160)

    def rows(judged):
        return fitted.row(["sleeve", "coil"], ["kept"] * 2, ["plays"] * 2, [judged] * 2)

    good, unjudged = rows("good"), rows("unjudged")
    factor = scale[good] / scale[unjudged]
    assert_allclose(factor[0], factor[1])
    assert_allclose(shape[good], shape[unjudged])
    assert factor[0].std() > 0.01
    # two classes draw their own lives
    assert abs(np.corrcoef(np.log(scale[unjudged]))[0, 1]) < 0.4


@pytest.mark.parametrize("n_draws", [1, 15, 16, 160, 161])
def test_any_number_of_draws(fitted, n_draws):
    scale, shape = fitted.draws(np.random.default_rng(0), n_draws)
    assert scale.shape == shape.shape == (len(fitted.table), n_draws)
    assert (scale > 0).all() and (shape > 0).all()


def test_draws_repeat_with_the_generator(fitted):
    first, second = (fitted.draws(np.random.default_rng(3), 40) for _ in range(2))
    assert_allclose(first, second)


def test_rows_are_found_by_their_keys(fitted):
    row = fitted.row(["coil", "sleeve"], ["new", "kept"], ["months", "plays"], ["", "worn"])
    found = fitted.table.loc[row, ["wear_class", "part_was", "clock", "judged"]].to_numpy().tolist()
    assert found == [["coil", "new", "months", ""], ["sleeve", "kept", "plays", "worn"]]
    assert fitted.row(["coil"], ["new"], ["months"], ["good"]).tolist() == [-1]
