"""The invented catalogue hangs together: everything named exists, everything that exists sits somewhere."""

import pytest

from pipeline.demo import catalogue
from pipeline.demo.world import FAMILIES

ACTIONS = {"clean", "recondition", "replace", "make", "keep"}


@pytest.fixture(scope="module")
def tables():
    return catalogue.tables(5)


def test_there_are_sixteen_assemblies_five_families_and_about_150_parts(tables):
    assert len(tables["assemblies"]) == 16
    assert [row["family"] for row in tables["families"]] == list(FAMILIES)
    assert 140 <= len(tables["parts"]) <= 170


def test_every_wear_class_has_parts(tables):
    assert {row["wear_class"] for row in tables["parts"]} == set(catalogue.WEAR_CLASSES)
    assert len(catalogue.WEAR_CLASSES) == 18


def test_no_part_is_listed_twice():
    names = [part.part for part in catalogue.parts()]
    assert len(names) == len(set(names))
    assert [catalogue.part_index()[name] for name in names] == list(range(len(names)))


def test_identifiers_are_distinct_when_case_is_ignored():
    assert len({part.part.casefold() for part in catalogue.parts()}) == len(catalogue.parts())


@pytest.mark.parametrize("part", catalogue.parts(), ids=lambda part: part.part)
def test_every_part_is_sound(part):
    assert part.price > 0
    assert part.pack_pcs >= 1
    assert part.supply in ("steady", "scarce", "ended")
    assert part.vendors and set(part.vendors) <= set("fmot")
    assert part.description


def test_every_part_sits_somewhere_and_every_fitting_names_a_part(tables):
    fitted = {row["part"] for row in tables["assembly_parts"]}
    assert fitted == {part.part for part in catalogue.parts()}


def test_every_fitting_names_a_known_assembly_family_and_action(tables):
    known = {row["assembly"] for row in tables["assemblies"]}
    for row in tables["assembly_parts"]:
        assert row["assembly"] in known
        assert row["family"] in ("", *FAMILIES)
        assert row["qty_pcs"] >= 1
        assert {row["thorough_action"], row["fix_only_action"]} <= ACTIONS


def test_no_fitting_stands_twice(tables):
    keys = [(row["assembly"], row["part"], row["family"]) for row in tables["assembly_parts"]]
    assert len(keys) == len(set(keys))


def test_a_fitting_for_all_families_is_not_also_given_for_one(tables):
    for_all = {(row["assembly"], row["part"]) for row in tables["assembly_parts"] if not row["family"]}
    for_one = {(row["assembly"], row["part"]) for row in tables["assembly_parts"] if row["family"]}
    assert for_all & for_one == set()


@pytest.mark.parametrize("family", FAMILIES)
def test_a_family_has_only_what_its_assemblies_hold(tables, family):
    counts = {r["assembly"]: r["count"] for r in tables["family_assemblies"] if r["family"] == family}
    assert all(count >= 1 for count in counts.values())
    assert {fit.assembly for fit in catalogue.fittings(family)} == set(counts)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_files_say_the_same_as_the_fittings(tables, family):
    counts = {r["assembly"] for r in tables["family_assemblies"] if r["family"] == family}
    said = {
        (row["assembly"], row["part"], row["qty_pcs"])
        for row in tables["assembly_parts"]
        if row["family"] in ("", family) and row["assembly"] in counts
    }
    assert said == {(fit.assembly, fit.part, fit.qty_pcs) for fit in catalogue.fittings(family)}


def test_only_the_oldest_family_has_score_reels_and_none_of_it_a_display(tables):
    has = {(row["family"], row["assembly"]) for row in tables["family_assemblies"]}
    assert {family for family, assembly in has if assembly == "reel"} == {"electromech"}
    assert {family for family, assembly in has if assembly == "display"} == set(FAMILIES) - {"electromech"}


def test_work_in_place_takes_longer_than_on_the_bench(tables):
    for row in tables["assemblies"]:
        assert row["installed_hours"] > row["bench_hours"] > 0
        assert row["open_hours"] > 0


def test_a_new_coil_brings_a_sleeve_wherever_a_coil_and_a_sleeve_meet(tables):
    # Common practice, no source: a new coil brings a new sleeve.
    ruled = {(row["assembly"], row["adds_part"]) for row in tables["companions"]}
    wear = {part.part: part.wear_class for part in catalogue.parts()}
    for family in FAMILIES:
        fits = catalogue.fittings(family)
        coiled = {fit.assembly for fit in fits if wear[fit.part] == "coil"}
        sleeves = {(f.assembly, f.part) for f in fits if wear[f.part] == "sleeve" and f.assembly in coiled}
        assert sleeves <= ruled


def test_companions_name_known_parts_and_a_trigger(tables):
    known = set(catalogue.part_index())
    for row in tables["companions"]:
        assert row["adds_part"] in known
        assert bool(row["trigger_part"]) != bool(row["trigger_wear_class"])
        assert not row["trigger_part"] or row["trigger_part"] in known
        assert 0 < row["share"] <= 1


def test_interchange_is_directed_and_names_known_parts(tables):
    pairs = {(row["part"], row["can_replace"]) for row in tables["interchange"]}
    assert {part for pair in pairs for part in pair} <= set(catalogue.part_index())
    assert all((b, a) not in pairs and a != b for a, b in pairs)


def test_the_remembered_cost_lags_behind_todays_price(tables):
    price = {part.part: part.price for part in catalogue.parts()}
    ratio = [row["unit_cost"] / price[row["part"]] for row in tables["parts"] if price[row["part"]] > 1]
    assert max(ratio) <= 1.01
    assert 0.8 < sum(ratio) / len(ratio) < 0.92


def test_every_drawer_is_named_save_six_that_nobody_knows(tables):
    places = [row["shelf"] for row in tables["parts"]]
    assert places.count("") == 6
    named = [place for place in places if place]
    assert len(named) == len(set(named))


def test_another_seed_gives_other_drawers_but_the_same_parts():
    one, other = catalogue.tables(5), catalogue.tables(6)
    assert [row["part"] for row in one["parts"]] == [row["part"] for row in other["parts"]]
    assert one["parts"] != other["parts"]
    assert one["assembly_parts"] == other["assembly_parts"]


@pytest.mark.parametrize(
    "part, rule",
    [("fuse-slow", "always"), ("ball", "always"), ("rail-side", "never"), ("spring-jet", "auto")],
)
def test_the_owner_overrides_few_parts(part, rule):
    assert catalogue.keep_rule(catalogue.parts()[catalogue.part_index()[part]]) == rule
