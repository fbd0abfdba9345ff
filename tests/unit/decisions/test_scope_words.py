"""The reckoning of one line, in words that say what decides and how sure it is."""

import datetime

import numpy as np
import pytest

from pipeline.decisions.scope_hours import FamilyHours
from pipeline.decisions.scope_plan import ALONG, AS_FOUND, FAILED, TREATED, WHOLE
from pipeline.decisions.scope_words import number, why, why_left, why_opened, why_rare, why_start

LINE = {
    "thorough_from": "pieces: expected use of such jobs",
    "fix_only_from": "pieces: expected use of such jobs",
    "extra_pcs": 3.0,
    "action": "replace",
    "note": AS_FOUND,
    "assembly": "flip",
    "mixes": False,
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
    "owner_gain_amount": np.nan,
    "is_had": True,
}


def _why(option="thorough", **changes):
    return why({**LINE, **changes}, option)


@pytest.mark.parametrize(("gain", "verdict"), [(12.0, "it pays"), (-1.0, "it does not pay")])
def test_the_owner_s_purse_has_a_verdict_of_its_own(gain, verdict):
    assert f"for the machine's owner {verdict}, at the shop's prices and with the life left" in _why(
        owner_gain_amount=gain)
    assert "for the machine's owner" not in _why(owner_gain_amount=gain, action="clean")


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
        (None, "no price known (0 is none): not in the sums"),
        (np.nan, "no price known (0 is none): not in the sums"),
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
    assert text.startswith("opening flip: paid once for the 7 pieces done inside (thorough)")


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


def test_what_is_asked_for_the_chance_of_no_call_back_is_said_to_be():
    text = _why("recommended", failures_avoided=0.05)
    assert text.startswith("goes in for the chance of no call-back that is asked, or with what comes along: over five")


def test_what_comes_along_says_so():
    for option in ("recommended", "thorough"):
        assert _why(option, note=ALONG).startswith("comes along with what is replaced beside it")


@pytest.mark.parametrize(
    ("action", "note", "said"),
    [
        ("clean", TREATED, "cleaned, as the assembly list names it"),
        ("recondition", TREATED, "reconditioned, as the assembly list names it"),
        ("make", WHOLE, "made anew, as the assembly list names it"),
        ("replace", AS_FOUND, "pieces: as many as such jobs find bad once it is open"),
        ("replace", WHOLE, "pieces: all of them"),
        ("replace", FAILED, "expected use of such jobs"),
    ],
)
def test_the_recommended_scope_says_how_many_and_how(action, note, said):
    assert said in _why("recommended", action=action, note=note)


def test_a_class_that_mixes_wear_out_with_chance_is_warned_of():
    assert "sleeve failures mix wear-out with chance: replacing on age helps only" in _why(mixes=True)
    assert "mix" not in _why(mixes=False)
    assert "mix" not in _why(mixes=True, extra_pcs=0.0)


def test_what_stays_says_from_where_it_would_pay():
    line = {**LINE, "failures_avoided": 0.05}
    assert why_left(line, True) == "stays until it fails: would avoid 0.05 failures over five years and pays from 0.1"
    assert why_left(line, False).endswith("opening not counted")


def test_what_would_pay_and_stays_says_what_keeps_it():
    assert why_left(LINE, False).endswith("but not with its share of opening and putting back flip")
    assert why_left({**LINE, "assembly": ""}, False).endswith("opening and putting back it")
    assert why_left(LINE, True).endswith("but what is done beside it does as much for less")


def test_what_stays_and_fails_no_later_is_not_told_with_a_minus():
    assert "would avoid 0 failures" in why_left({**LINE, "failures_avoided": -0.3}, True)


def test_what_stays_and_cannot_be_weighed_says_why():
    assert "cost is unknown" in why_left({**LINE, "break_even_failures": np.nan}, True)
    assert "assembly_parts.csv" in why_left({**LINE, "is_listed": False}, True)


@pytest.mark.parametrize(("is_guessed", "source"), [(True, "from memory"), (False, "the stages of thorough jobs")])
def test_unseen_hours_say_where_they_are_known_from(is_guessed, source):
    text = why_opened("flip", 3.0, 6.0, "thorough", 6.4, FamilyHours(0.0, 2.1, 0.0, is_guessed))
    assert "with 6.4 hours of cleaning and wiring" in text
    assert source in text


def test_hours_of_no_line_say_what_they_are():
    assert "whole machine" in why_start(20.0, "thorough")
    assert "whole machine" not in why_start(2.5, "fix_only")
    assert "2.5 hours" in why_start(2.5, "fix_only")


def test_rare_parts_say_how_many_they_are():
    assert why_rare(4).startswith("4 parts rarer than one piece in twenty")
