"""Lives from delivery: who is watched for how long, on which clock, and what the guess still decides."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.models import lives, lives_watched
from pipeline.models.life_table import KEYS
from pipeline.store import read
from tests.support import hand_shop

TODAY = "2026-07-01"
BASE = {
    "shop": f"key value\ntoday {TODAY}\ncallback_watch_days 180\nplays_per_month_home 60\nplays_per_month_route 600",
    "families": "family name\nem Electromechanical\nss Solid-state",
    "parts": "part description wear_class\ncoil Coil coil\nsleeve Sleeve sleeve\nknob Knob -",
    "assemblies": "assembly bench_hours installed_hours open_hours\nflip 1 2 0.3",
    "family_assemblies": "family assembly count\nem flip 2\nss flip 3",
    "assembly_parts": "assembly part qty_pcs\nflip coil 1\nflip sleeve 2",
    # J1 has no counter; J2 at home; J3 delivered 30 days ago on route; J4 nobody wrote down its parts; J5 runs
    "jobs": """job family scope booked_on delivered_on status setting plays plays_quality
        J1 em thorough 2025-01-01 2025-02-01 delivered home - unknown
        J2 ss fix_only 2025-01-01 2025-03-01 delivered home 1000 read
        J3 ss refresh 2026-01-01 2026-06-01 delivered route 2000 read
        J4 ss fix_only 2025-01-01 2025-03-01 delivered home 1000 read
        J5 ss thorough 2026-01-01 - in_progress home 1000 read""",
    "job_parts": """job part qty_pcs source reason
        J1 sleeve 4 new policy
        J2 coil 1 new failed
        J3 sleeve 1 salvage failed
        J3 coil 1 customer failed
        J5 sleeve 6 new policy""",
    "callbacks": "job reported_on part part_was\nJ2 2025-04-30 sleeve kept",
}


def _fit(**tables):
    with hand_shop.store(**{**BASE, **tables}) as connection:
        return lives.fit(connection)


def _row(fitted, wear_class, part_was, clock, judged=None):
    """One row; kept pieces by default nobody judged."""
    judged = ("" if part_was == "new" else "unjudged") if judged is None else judged
    return fitted.table.set_index(KEYS).loc[(wear_class, part_was, judged, clock)]


def test_watched_until_the_end_of_the_watch_or_today():
    with hand_shop.store(**BASE) as connection:
        jobs = lives_watched.watched_jobs(connection, read.settings(connection)).set_index("job")
    assert jobs["watch_days"].to_dict() == {"J1": 180, "J2": 180, "J3": 30}
    assert jobs["clock"].to_dict() == {"J1": "months", "J2": "plays", "J3": "plays"}
    assert_allclose(jobs["per_day"] * lives_watched.MONTH_DAYS, [1, 60, 600])


def test_new_and_kept_pieces_are_counted_by_clock():
    fitted = _fit()
    # J1 (em, 2 flippers, no counter): 4 sleeves held, 4 new; 2 coils kept; J2's call brought a new sleeve
    assert _row(fitted, "sleeve", "new", "months")["pieces_watched"] == 4 + 1
    assert _row(fitted, "coil", "kept", "months", "good")["pieces_watched"] == 2
    assert _row(fitted, "coil", "kept", "plays", "good")["pieces_watched"] == 0
    # J2 (ss, 3 flippers, fix only): 3 coils, 1 new; J3 (a refresh): 3 coils, 1 the customer's own, unwatched
    assert _row(fitted, "coil", "new", "plays")["pieces_watched"] == 1
    assert _row(fitted, "coil", "kept", "plays")["pieces_watched"] == 2
    assert _row(fitted, "coil", "kept", "plays", "partly")["pieces_watched"] == 2
    # in months they are told again, the other hypothesis about the same pieces
    assert _row(fitted, "coil", "kept", "months")["pieces_watched"] == 2
    # what a judgement tells is read from each piece once: 3 coils and 6 sleeves of J2, less the coil replaced
    unjudged = fitted.judgements.set_index("judged").loc["unjudged"]
    assert unjudged[["pieces_watched", "failures"]].tolist() == [2 + 6, 1]


def test_a_life_is_told_in_months_and_where_plays_are_known_in_plays_too():
    with hand_shop.store(**BASE) as connection:
        watched, _ = lives_watched.watched(connection, read.settings(connection))
    both = lives_watched.on_both_clocks(watched)
    assert (both["clock"] == "months").sum() == len(watched)
    assert set(both.loc[both["clock"] == "plays", "job"]) == {"J2", "J3"}
    assert both.groupby("job")["is_played"].unique().str[0].to_dict() == {"J1": False, "J2": True, "J3": True}
    in_months = both[both["clock"] == "months"]
    assert_allclose(in_months["time"] * lives_watched.MONTH_DAYS, in_months["days"])
    in_plays = both[both["clock"] == "plays"]
    assert_allclose(in_plays["time"] / in_plays["days"], in_plays["job"].map({"J2": 60, "J3": 600}) * 12 / 365.25)


def test_a_failed_piece_ends_its_life_and_its_replacement_starts_one():
    fitted = _fit()
    # J2: 6 sleeves kept, one failed on day 60; J3, a refresh: 6, one of them salvaged, an age of its own: kept
    row = _row(fitted, "sleeve", "kept", "plays")
    assert (row["pieces_watched"], row["failures"]) == (6, 1)
    row = _row(fitted, "sleeve", "kept", "plays", "partly")
    assert (row["pieces_watched"], row["failures"]) == (6, 0)
    assert _row(fitted, "sleeve", "new", "plays")["pieces_watched"] == 1


def test_a_second_failure_of_the_replacement_counts_from_the_call_before():
    calls = BASE["callbacks"] + "\nJ2 2025-05-30 sleeve new"
    with hand_shop.store(**{**BASE, "callbacks": calls}) as connection:
        settings = read.settings(connection)
        watched, left_out = lives_watched.watched(connection, settings)
    ended = watched[watched["is_failed"]].set_index("part_was")["days"]
    assert ended.to_dict() == {"kept": 60.0, "new": 30.0}
    assert left_out == 0


def test_calls_that_cannot_be_used_are_counted():
    calls = (
        BASE["callbacks"]
        + """
        J2 2025-12-01 sleeve kept
        J4 2025-03-20 sleeve kept
        J1 2025-01-15 sleeve new"""
    )
    assert _fit(callbacks=calls).left_out == 3


def test_a_call_on_the_day_of_delivery_is_half_a_day_of_life():
    calls = "job reported_on part part_was\nJ2 2025-03-01 sleeve kept"
    with hand_shop.store(**{**BASE, "callbacks": calls}) as connection:
        watched, _ = lives_watched.watched(connection, read.settings(connection))
    assert watched.loc[watched["is_failed"], "days"].tolist() == [0.5]


def test_no_call_backs_noted_is_not_no_failures():
    tables = {name: text for name, text in BASE.items() if name != "callbacks"}
    with hand_shop.store(**tables) as connection:
        fitted = lives.fit(connection)
    assert (fitted.table["pieces_watched"] == 0).all()
    assert_allclose(fitted.table["prior_weight_share"], 1.0, atol=0.01)
    assert_allclose(fitted.table["median"], fitted.table["guess_median"], rtol=0.01)


def test_the_owners_guess_comes_before_the_seed_table():
    wear = "wear_class median_plays_kept shape weight_jobs\nsleeve 30000 2 1"
    fitted = _fit(wear=wear)
    own, seed = _row(fitted, "sleeve", "kept", "plays"), _row(fitted, "sleeve", "kept", "months")
    assert (own["guess_from"], own["guess_median"]) == ("owner", 30000)
    assert seed["guess_from"] == "seed"


def test_a_part_without_class_is_other():
    assert {"coil", "sleeve", "other"} == set(_fit().table["wear_class"])


def test_quiet_kept_pieces_speak_for_new_ones_too():
    # guesses of one class err alike: where many kept pieces stay quiet, the guess for new ones moves up
    many = "\n".join(f"Q{n} ss fix_only 2025-01-01 2025-03-01 delivered route 1000 read" for n in range(60))
    used = "\n".join(f"Q{n} knob 1 new -" for n in range(60))
    wear = "wear_class median_plays_new median_plays_kept shape weight_jobs\nsleeve 8000 4000 2 1"
    fitted = _fit(jobs=BASE["jobs"] + "\n" + many, job_parts=BASE["job_parts"] + "\n" + used, wear=wear)
    kept, new = (_row(fitted, "sleeve", was, "plays") for was in ("kept", "new"))
    assert kept["median"] > 1.5 * 4000
    assert new["median"] > 1.5 * 8000


def test_at_two_failures_in_ten_pieces_the_seed_guess_leaves_a_factor_of_three():
    calls = "job reported_on part part_was\nJ2 2025-03-20 coil kept\nJ2 2025-04-30 coil kept"
    fitted = _fit(
        family_assemblies="family assembly count\nem flip 2\nss flip 11",
        callbacks=calls,
        jobs="\n".join(BASE["jobs"].splitlines()[:3]),
        job_parts="job part qty_pcs\nJ1 sleeve 4\nJ2 coil 1",
    )
    row = fitted.row(["coil"], ["kept"], ["plays"], ["unjudged"])[0]
    assert (fitted.table.loc[row, "pieces_watched"], fitted.table.loc[row, "failures"]) == (10, 2)
    scale, shape = fitted.draws(np.random.default_rng(0), 4000)
    low, high = np.quantile(scale[row] * np.log(2) ** (1 / shape[row]), (0.05, 0.95))
    assert high / low > 3
    assert fitted.table.loc[row, "median_high"] / fitted.table.loc[row, "median_low"] > 3 ** (1.2816 / 1.645)
    assert 0 < fitted.table.loc[row, "prior_weight_share"] < 1


def test_three_required_files_alone_rest_on_the_seed_table():
    with hand_shop.store(
        families="family name\nem em",
        parts="part description\ncoil Coil",
        jobs="job family scope delivered_on\nJ1 em thorough 2026-01-01",
        job_parts="job part qty_pcs\nJ1 coil 2",
    ) as connection:
        fitted = lives.fit(connection)
    assert set(fitted.table["guess_from"]) == {"seed"}
    assert fitted.left_out == 0


def test_lives_of_a_generated_shop_are_found_again():
    # 400 machines of 6 sleeves each whose true lives are known
    rng = np.random.default_rng(4)
    jobs, used = [BASE["jobs"].splitlines()[0]], ["job part qty_pcs"]
    calls = ["job reported_on part part_was"]
    for n in range(400):
        jobs.append(f"G{n} ss fix_only 2025-01-01 2025-03-01 delivered route 1000 read")
        used.append(f"G{n} knob 1")
        days = np.ceil(3000 * rng.weibull(1.8, 6) / 600 * lives_watched.MONTH_DAYS)
        calls += [f"G{n} {np.datetime64('2025-03-01') + int(day)} sleeve kept" for day in days[days < 180]]
    fitted = _fit(jobs="\n".join(jobs), job_parts="\n".join(used), callbacks="\n".join(calls))
    row = _row(fitted, "sleeve", "kept", "plays")
    truth = 3000 * np.log(2) ** (1 / 1.8)
    assert_allclose(row["median"], truth, rtol=0.06)
    assert row["median_high"] / row["median_low"] < 1.15
    assert_allclose(row["shape"], 1.8, rtol=0.1)
    assert row["prior_weight_share"] < 0.1


@pytest.mark.parametrize("setting", ["plays_per_month_home", "plays_per_month_route"])
def test_every_wear_class_of_the_contract_has_a_seed(setting):
    from pipeline.models import seeds

    classes = (
        "coil sleeve opto_pair plunger spring switch ring lamp connector fuse capacitor board display moulding "
        "bracket fastener cosmetic other"
    ).split()
    assert set(classes) == set(seeds.wear()["wear_class"]) == set(seeds.piece_hours().index)
