"""Pieces of several states: the worst go first, and looking helps by what it takes out."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.judged_pieces import judged_good_share, worst_first


@pytest.mark.parametrize(
    ("taken", "left"),
    [(0, [2, 3, 1]), (1, [1, 3, 1]), (2, [0, 3, 1]), (4, [0, 1, 1]), (5.5, [0, 0, 0.5]), (6, [0, 0, 0]), (9, [0, 0, 0])],
)
def test_the_worst_go_first(taken, left):
    assert_allclose(worst_first([[2.0, 3.0, 1.0]], [taken]), [left])


def test_lines_do_not_touch_each_other():
    assert_allclose(worst_first([[1.0, 1.0], [1.0, 1.0]], [2.0, 0.0]), [[0, 0], [1, 1]])


@pytest.mark.parametrize(("pieces", "taken"), [([[-1.0]], [0.0]), ([[1.0]], [-1.0])])
def test_a_negative_number_is_refused(pieces, taken):
    with pytest.raises(InvalidParameter):
        worst_first(pieces, taken)


def test_what_is_left_fails_as_often_as_before_less_what_was_taken_out():
    left, taken, worn, unjudged, good = 12.0, 2.0, 0.3, 0.15, 0.05
    share = judged_good_share([left], [taken], [worn], [unjudged], [good])[0]
    kept = left - taken
    assert 0 < share < 1
    assert_allclose(kept * (share * good + (1 - share) * unjudged), left * unjudged - taken * worn)


@pytest.mark.parametrize(
    ("taken", "worn", "unjudged", "good"),
    [(0, 0.3, 0.15, 0.05), (2, 0.15, 0.15, 0.05), (2, 0.1, 0.15, 0.05), (2, 0.3, 0.15, 0.15), (2, 0.3, 0.15, 0.2)],
    ids=["nothing taken out", "worn no worse", "worn better", "good no better", "good worse"],
)
def test_where_looking_finds_nothing_nothing_passes_as_good(taken, worn, unjudged, good):
    assert judged_good_share([10.0], [taken], [worn], [unjudged], [good]) == 0


def test_what_is_left_is_never_better_than_good():
    assert judged_good_share([10.0], [9.0], [0.9], [0.5], [0.05]) == 1
    assert judged_good_share([10.0], [12.0], [0.9], [0.5], [0.05]) == 0  # nothing is left to pass


def test_the_more_are_taken_out_the_better_the_rest():
    share = judged_good_share(np.full(4, 10.0), np.arange(4.0), 0.2, 0.1, 0.05)
    assert (np.diff(share) > 0).all()
