"""Near misses are few, near and never the only sense of a numbered series."""

import pytest

from pipeline.store import connect, near


@pytest.fixture(scope="module")
def connection():
    """Any connection will do."""
    with connect.open_memory() as opened:
        yield opened


@pytest.mark.parametrize(("text", "names", "expected"), [
    ("fli-coli", ["fli-coil", "fli-bat"], ["fli-coil"]),  # letters swapped
    ("flicoil", ["fli-coil"], ["fli-coil"]),  # marks do not count
    ("FLI COIL", ["fli-coil"], ["fli-coil"]),  # nor do capitals and blanks
    ("E.M.", ["em", "dmd", "ss1"], ["em"]),
    ("J9004", [f"J{n:04d}" for n in range(1, 300)], ["J0004"]),
    ("J0300", [f"J{n:04d}" for n in range(1, 300)], ["J0030", "J0100", "J0200"]),
    ("FLI COIL", ["fli-coil-em", "fli-coil-ss", "fli-bat"], ["fli-coil-em", "fli-coil-ss"]),  # cut short
    ("fli-coi", ["fli-coil", "fli-coil-em"], ["fli-coil"]),  # the nearest alone
    ("Röhre", ["röhre 1", "x"], ["röhre 1"]),
    ("xyzzy", ["fli-coil", "lamp"], None),
    ("", ["lamp"], None),
    ("--", ["lamp"], None),
    ("lamp", [], None),
    ("P1", [f"P{n}" for n in range(2, 10)], None),  # all equally near: none says anything
])
def test_nearest(connection, text, names, expected):
    assert near.nearest(connection, [text], names).get(text) == expected


def test_no_texts_no_answer(connection):
    assert near.nearest(connection, [], ["lamp"]) == {}


def test_only_the_first_texts_are_looked_up(connection):
    texts = [f"lamp{n:05d}" for n in range(near.MOST_TEXTS + 50)]
    found = near.nearest(connection, texts, [f"{text}x" for text in texts])
    assert len(found) <= near.MOST_TEXTS and set(found) <= set(texts[:near.MOST_TEXTS])
