"""What may stand in for a part that is short: by the directed rule, as far as it lies there, ending in a circle."""

import pandas as pd
import pytest

from pipeline.decisions import stand_ins
from tests.support import hand_shop

PARTS = "part description\n" + "\n".join(f"{part} {part}" for part in ("coil", "other", "late"))


def offered(rules, free, *lines):
    """Substitute and condition of each line: part, pieces on the shelf for it, pieces short."""
    lines = pd.DataFrame(lines or [("coil", 0, 2)], columns=["part", "on_shelf_pcs", "short_pcs"])
    stock = pd.DataFrame({"part": list(free), "free_pcs": list(free.values()), "shelf": "A1"})
    stock = stock.astype({"free_pcs": float})
    with hand_shop.store(parts=PARTS, interchange=f"part can_replace condition\n{rules}") as connection:
        found = stand_ins.offered(connection, lines.astype({"short_pcs": "Int64", "on_shelf_pcs": "Int64"}), stock)
    found = found[["substitute", "condition"]].astype(object)
    return [tuple(row) for row in found.where(found.notna(), None).values.tolist()]


def test_one_that_lies_there_is_named_with_its_condition():
    assert offered("other coil filed", {"coil": 0, "other": 2}) == [("other", "filed")]


def test_one_that_covers_a_part_of_the_shortage_says_how_much():
    assert offered("other coil -", {"other": 1}) == [("other (1 of 2)", None)]


def test_the_rule_has_a_direction():
    assert offered("coil other filed", {"other": 9}) == [(None, None)]


@pytest.mark.parametrize("free", [{"other": 0}, {"other": None}, {}])
def test_none_that_does_not_lie_there_or_was_never_counted(free):
    assert offered("other coil filed", free) == [(None, None)]


@pytest.mark.parametrize("short", [0, None])
def test_no_stand_in_where_nothing_is_known_to_be_short(short):
    assert offered("other coil filed", {"other": 9}, ("coil", 2, short)) == [(None, None)]


def test_who_needs_the_stand_in_itself_goes_first_and_no_piece_is_offered_twice():
    lines = [("coil", 0, 2), ("coil", 0, 2), ("other", 1, 0)]
    assert offered("other coil -", {"other": 4}, *lines) == [("other", None), ("other (1 of 2)", None), (None, None)]


@pytest.mark.parametrize("circle", [
    "other coil -\ncoil other -", "other coil -\nlate other -\ncoil late -\nlate late -"])
def test_a_circle_of_rules_ends(circle):
    assert offered(circle, {"coil": 0, "other": 9}) == [("other", None)]


def test_what_stands_in_for_a_stand_in_comes_after_it_under_the_conditions_of_both():
    rules = "other coil filed\nlate other glued"
    assert offered(rules, {"late": 9}) == [("late", "filed; glued")]
    assert offered(rules, {"late": 9, "other": 2}) == [("other", "filed")]


def test_several_that_cover_a_shortage_together_say_how_many_each():
    assert offered("other coil filed\nlate coil -", {"late": 1, "other": 1}) == [
        ("late (1 of 2), other (1 of 2)", "other: filed")]
