"""What the owner wrote down once is plausible and, where a guess, wrong in a human way."""

from dataclasses import replace

import numpy as np
import pytest

from pipeline.demo import catalogue, owner
from pipeline.demo.world import World


def test_settings_are_those_of_the_world(world):
    said = {row["key"]: row["value"] for row in owner.shop_rows(world)}
    assert said["bench_hours_per_week"] == 36.0
    assert said["bays"] == 6
    assert said["warranty_days"] == 90
    assert said["callback_watch_days"] == 180
    assert said["today"] == world.today
    assert said["plays_per_month_home"] == world.lives.home_plays_per_month
    assert 55 <= said["labour_rate"] <= 65


def test_a_smaller_shop_has_a_smaller_purse():
    def purse(jobs):
        return {r["key"]: r["value"] for r in owner.shop_rows(World(jobs_per_year=jobs))}["cash_limit_amount"]

    assert purse(15) < purse(60) < purse(120)


def test_aliases_name_known_parts_and_are_no_parts_themselves():
    known = {part.part.casefold() for part in catalogue.parts()}
    rows = owner.alias_rows()
    assert len({row["alias"].casefold() for row in rows}) == len(rows) == 20
    for row in rows:
        assert row["part"] in known
        assert row["alias"].casefold() not in known


def test_every_machine_of_a_job_is_listed_once(ran):
    rows = owner.machine_rows(ran.jobs)
    assert [row["machine"] for row in rows] == sorted({job.machine.machine for job in ran.jobs})


def test_guesses_cover_every_wear_class_with_kept_below_new(world):
    rows = owner.wear_rows(5, world)
    assert [row["wear_class"] for row in rows] == list(catalogue.WEAR_CLASSES)
    for row in rows:
        assert 0 < row["median_plays_kept"] < row["median_plays_new"] * 1.1
        assert 0 < row["median_months_kept"] < row["median_months_new"] * 1.1
        assert row["shape"] > 0
        assert row["weight_jobs"] in (0.5, 1.0, 2.0)


def test_guesses_are_off_but_not_absurd(world):
    from pipeline.demo import lives

    off = []
    for seed in range(8):
        for row in owner.wear_rows(seed, world):
            clock = lives.CLASS_LIVES[row["wear_class"]][0]
            off.append(
                np.log(row[f"median_{clock}_kept"] / owner.true_median(world, row["wear_class"], "kept"))
            )
    assert np.std(off) > 0.25
    assert np.max(np.abs(off)) < np.log(10)


def test_what_is_cheap_is_thought_to_fail_sooner_than_it_does(world):
    ratios = {"ring": [], "board": []}
    for seed in range(20):
        for row in owner.wear_rows(seed, world):
            if row["wear_class"] in ratios:
                true = owner.true_median(world, row["wear_class"], "new")
                ratios[row["wear_class"]].append(np.log(row["median_months_new"] / true))
    assert np.mean(ratios["ring"]) < 0 < np.mean(ratios["board"])


def test_the_median_of_one_kind_of_piece_is_weibulls(world):
    from pipeline.demo import lives

    even = replace(world, lives=replace(world.lives, worn_factor=1.0))
    shape, good, _ = lives.scales(even, "coil", "kept")
    assert owner.true_median(even, "coil", "kept") == pytest.approx(good * np.log(2) ** (1 / shape), rel=1e-6)
