"""What is said to be true beside the records is what made them."""

import json
from collections import Counter, defaultdict

import numpy as np
import pytest

from pipeline.demo import catalogue, generate, truth, use, vendors
from pipeline.demo.world import FAMILIES, SCOPES, World


@pytest.fixture(scope="module")
def true(shop):
    return shop.truth_tables


def test_every_file_is_explained(true):
    assert {f"{name}.csv" for name in true} == set(truth.MEANINGS)


def test_the_numbers_can_be_written_as_json(shop, world):
    said = json.loads(json.dumps(shop.truth_numbers, default=str))
    assert said["seed"] == 5
    assert said["first_on"] == "2022-11-01"
    assert said["world"]["work"]["roughness_sd"] == world.work.roughness_sd


def test_use_covers_every_part_a_family_has_in_every_scope(true):
    keys = {(row["family"], row["scope"], row["part"]) for row in true["use"]}
    for family in FAMILIES:
        parts = {fit.part for fit in catalogue.fittings(family)}
        for scope in SCOPES:
            assert {part for f, s, part in keys if (f, s) == (family, scope)} == parts
    assert len(keys) == len(true["use"])


def test_pieces_per_job_is_share_times_pieces_if_used(true):
    for row in true["use"]:
        assert 0 < row["use_share"] < 1
        by_hand = row["use_share"] * row["pieces_if_used"]
        assert row["pieces_per_job"] == pytest.approx(by_hand, rel=2e-3, abs=1e-5)


def test_the_shop_used_about_what_the_truth_expects(true, clean):
    # All delivered jobs together; a pooled count, so that its spread is known well enough.
    per_job = {(r["family"], r["scope"], r["part"]): r["use_share"] for r in true["use"]}
    jobs = {r["job"]: (r["family"], r["scope"]) for r in clean.tables["jobs"] if r["status"] == "delivered"}
    expected, spread = Counter(), Counter()
    for (family, scope), n in Counter(jobs.values()).items():
        for (f, s, part), share in per_job.items():
            if (f, s) == (family, scope):
                expected[part] += n * share
                spread[part] += n * share * (1 - share)
    users = defaultdict(set)
    for row in clean.tables["job_parts"]:
        if row["job"] in jobs and row["reason"] != "callback":
            users[row["part"]].add(row["job"])
    z = [(len(users[part]) - expected[part]) / np.sqrt(spread[part] + 0.5) for part in expected]
    # Jobs share their roughness, so parts lean the same way; single parts may stray further than 2.
    assert abs(np.mean(z)) < 0.8
    assert np.mean(np.abs(z) < 3) > 0.97


def test_bookings_add_up_to_the_shops_rate(true):
    assert sum(row["jobs_per_year"] for row in true["bookings"]) == pytest.approx(60.0, abs=1e-3)
    assert len(true["bookings"]) == 15


def test_hours_are_the_worlds(true, world):
    for row in true["hours"]:
        f, s = FAMILIES.index(row["family"]), SCOPES.index(row["scope"])
        assert row["mean_hours"] == world.work.mean_hours[f][s]


def test_hours_a_year_fit_the_bench(shop, world):
    needed = shop.truth_numbers["expected_job_hours_per_year"]
    by_hand = sum(
        60 * world.bookings.family_shares[f] * world.bookings.scope_shares[f][s] * world.work.mean_hours[f][s]
        for f in range(5)
        for s in range(3)
    )
    assert needed == pytest.approx(by_hand, abs=0.01)
    assert 0.6 < needed / (48 * world.bench_hours_per_week) < 0.95


def test_lead_times_say_each_vendors_mean(true):
    for row, vendor in zip(true["lead_times"], vendors.VENDORS.values(), strict=True):
        assert row["vendor"] == vendor.vendor
        assert row["overall_mean_days"] > row["mean_days"] > row["quoted_days"]


def test_receipts_take_as_long_as_the_truth_says(true, ran):
    said = {row["vendor"]: row for row in true["lead_times"]}
    for letter, vendor in vendors.VENDORS.items():
        days = [line.due - o.ordered for o in ran.buyer.orders if o.letter == letter for line in o.lines]
        orders = sum(o.letter == letter for o in ran.buyer.orders)
        # Lines of an order arrive together, so the number of orders is what counts.
        assert abs(np.mean(days) - said[vendor.vendor]["overall_mean_days"]) < 4.5 * np.std(days) / np.sqrt(
            orders
        )


def test_the_shelf_is_the_one_after_the_last_day(true, ran):
    assert [row["at_hand_pcs"] for row in true["shelf"]] == ran.floor.shelf.at_hand.tolist()


def test_jobs_say_roughness_and_who_forgot(true, ran):
    rough = {row["job"]: row["roughness"] for row in true["jobs"]}
    assert rough == {job.job: round(job.roughness, 5) for job in ran.jobs}
    forgot = [row["job"] for row in true["jobs"] if row["parts_forgotten"] == "yes"]
    assert forgot


def test_lives_are_in_the_classs_own_clock(true):
    assert [row["wear_class"] for row in true["lives"]] == list(catalogue.WEAR_CLASSES)
    for row in true["lives"]:
        assert row["clock"] in ("plays", "months")
        assert row["scale_new"] > row["scale_kept_good"] > row["scale_kept_worn"]
        assert row["median_new"] == pytest.approx(
            row["scale_new"] * np.log(2) ** (1 / row["shape"]), rel=1e-3
        )


def test_another_world_has_another_truth():
    rough = generate.simulate(5, World(jobs_per_year=20))
    assert sum(row["jobs_per_year"] for row in rough.truth_tables["bookings"]) == pytest.approx(
        20.0, abs=1e-3
    )
    assert rough.truth_tables["use"] != []


def test_the_files_shares_are_those_computed(true, world):
    numbers = use.by_part(5, world, "modern", "refresh")
    rows = {row["part"]: row for row in true["use"] if (row["family"], row["scope"]) == ("modern", "refresh")}
    for part, (share, *_) in numbers.items():
        assert rows[catalogue.parts()[part].part]["use_share"] == round(share, 5)
