"""File names made of whatever a vendor is called."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.reports import file_names

DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9\u00b9\u00b2\u00b3]|lpt[0-9\u00b9\u00b2\u00b3])", re.IGNORECASE)


@pytest.mark.parametrize(("name", "stem"), [
    ("north", "north"), ("North & Söhne", "North & Söhne"), ("a/b\\c", "a_b_c"), ("what?", "what_"),
    ("..", "vendor"), (" . ", "vendor"), ("Co. Ltd.", "Co. Ltd"), ("../../etc/passwd", "_.._etc_passwd"),
    ("NUL", "NUL_"), ("nul.parts", "nul_.parts"), ("COM1", "COM1_"), ("com10", "com10"), ("console", "console"),
    ("tab\there", "tab_here"), ("a" * 300, "a" * 80), ("<>", "_"), ("", "vendor"), ("lpt²", "lpt²_"),
])
def test_a_name_becomes_one_that_every_system_takes(name, stem):
    assert file_names.safe([name]) == {name: stem}


def test_names_that_become_the_same_stay_apart_and_each_keeps_its_own():
    found = file_names.safe(["a:b", "a/b", "a_b", "A_B", "a_b-2"])
    assert found["a_b-2"] == "a_b-2" and found["A_B"] == "A_B"
    assert len({stem.casefold() for stem in found.values()}) == 5


def test_the_order_of_the_names_does_not_matter():
    names = ["a/b", "a:b", "con", "CON", "a*b"]
    assert file_names.safe(names) == file_names.safe(names[::-1])


@given(st.lists(st.text(max_size=90), unique=True, max_size=8))
def test_whatever_vendors_are_called(names):
    found = file_names.safe(names)
    assert set(found) == set(names)
    stems = list(found.values())
    assert len({stem.casefold() for stem in stems}) == len(stems)
    for stem in stems:
        assert stem and not re.search(r'[<>:"/\\|?*\x00-\x1f]', stem) and len(stem) < 100
        assert stem == stem.strip(" .") and not DEVICES.fullmatch(stem.split(".")[0].strip())
        stem.encode("utf-8")
