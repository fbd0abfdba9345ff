"""The reckoning of one line, in words that say what decides and how sure it is."""

import datetime

import numpy as np
import pytest

from pipeline.decisions.scope_words import number, why, why_opened

LINE = {
    "thorough_from": "pieces: expected use of such jobs",
    "fix_only_from": "pieces: expected use of such jobs",
    "extra_pcs": 3.0,
    "is_listed": True,
    "failures_avoided": 0.8,
    "warranty_avoided": 0.02,
    "break_even_failures": 0.1,
    "price_from": "landed",
    "priced_on": datetime.date(2026, 3, 5),
    "is_hours_guessed": False,
    "wear_class": "sleeve",
    "guess_share": 0.3,
    "guess_from": "owner",
}


def _why(option="thorough", **changes):
    return why({**LINE, **changes}, option)


def test_a_line_that_pays_says_over_what_and_from_where():
    assert _why().startswith("pays: over five years avoids 0.8 failures and pays from 0.1")


def test_a_line_may_pay_over_five_years_and_not_inside_the_warranty():
    assert "inside the warranty avoids 0.02: does not pay there" in _why()


def test_a_line_may_pay_inside_the_warranty_too():
    assert "avoids 0.3: pays there, too" in _why(warranty_avoided=0.3)


def test_a_line_that_does_not_pay_says_by_what():
    assert _why(failures_avoided=0.05).startswith(
        "does not pay by call-backs alone: over five years avoids 0.05"
    )


@pytest.mark.parametrize("avoided", [0.0, -0.2])
def test_a_new_piece_that_is_no_better_is_said_to_be(avoided):
    text = _why(failures_avoided=avoided)
    assert text.startswith("by what is known a new piece fails no later")
    assert "-" not in text.split(";")[0]


def test_exactly_at_the_break_even_it_does_not_pay():
    assert _why(failures_avoided=0.1).startswith("does not pay")


def test_a_piece_that_failed_needs_no_reckoning():
    assert _why("fix_only").startswith("what had failed or had to go")


def test_a_line_that_fixing_replaces_too_adds_nothing():
    assert _why(extra_pcs=0.0).startswith("no more than fixing replaces")


def test_what_is_not_listed_cannot_be_weighed_and_says_which_file_would_tell():
    text = _why(is_listed=False, failures_avoided=np.nan)
    assert "assembly_parts.csv" in text
    assert "still decides" not in text


def test_an_unknown_cost_leaves_it_open():
    assert "unknown" in _why(break_even_failures=np.nan)


@pytest.mark.parametrize(
    ("price_from", "said"),
    [
        ("landed", "landed price of 2026-03-05"),
        ("offer", "price by the cheapest offer, never bought yet"),
        ("unit_cost", "remembered price, never bought or offered"),
        (None, "no price known: not in the sums"),
        (np.nan, "no price known: not in the sums"),
    ],
)
def test_where_the_price_comes_from(price_from, said):
    assert said in _why(price_from=price_from)


def test_the_owners_guess_is_named_where_it_decides():
    assert "the owner's guess still decides" in _why(guess_share=0.7)
    assert "still decides" not in _why(guess_share=0.5)


def test_a_guess_from_memory_is_told_from_the_owners():
    assert "a guess from memory still decides" in _why(guess_share=0.7, guess_from="seed")


def test_a_guess_that_does_not_matter_is_not_named():
    assert "guess" not in _why("fix_only", guess_share=0.9, extra_pcs=0.0)


def test_guessed_hours_are_named():
    assert "seed table (from memory)" in _why(is_hours_guessed=True)


def test_where_the_pieces_come_from_is_always_said():
    for option in ("fix_only", "thorough"):
        assert "expected use of such jobs" in _why(option)


def test_opening_one_assembly():
    text = why_opened("flip", 1.0, 7.0, "thorough")
    assert text.startswith("opening flip: paid once for the 7 pieces replaced inside (thorough)")


def test_opening_several_assemblies():
    assert why_opened("jet", 2.4, 3.9, "fix_only").startswith("opening jet (2.4 of them): paid once")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (3.0, "3"),
        (0.000123, "0.00012"),
        (9.96, "10"),
        (12.34, "12.3"),
        (99.96, "100"),
        (128.4, "128"),
    ],
)
def test_numbers_to_what_can_be_known(value, text):
    assert number(value) == text


def test_a_rounding_remainder_is_not_told_as_a_number_of_failures():
    told = _why(failures_avoided=0.0006, break_even_failures=0.04, warranty_avoided=-8.7e-07)
    assert "inside the warranty avoids next to none" in told and "e-07" not in told
