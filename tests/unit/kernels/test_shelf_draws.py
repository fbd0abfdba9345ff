"""Shelves drained by whole jobs, and topped up for those that were announced."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import shelf_draws


def test_a_job_announced_before_the_order_went_out_was_ordered_for():
    # lead time 10: a job 4 days ago was ordered for if booked 6 days or more before that; one 12 days ago left before
    lead, expected = [[10.0]], [[2.5], [2.5], [2.5]]
    total = shelf_draws.announced_pcs(lead, [0, 0, 0], [4.0, 4.0, 12.0], [6.0, 5.9, 90.0], expected)
    assert_allclose(total, [[2.5]])


def test_what_was_announced_and_expected_rightly_leaves_the_shelf_as_it_was():
    lead, draw, age, notice = [[20.0, 5.0]], [0, 0], [3.0, 15.0], [40.0, 40.0]
    need = np.array([[2, 1], [1, 3]])
    shelf = shelf_draws.drained_shelf([[6, 6]], lead, draw, age, need) + shelf_draws.announced_pcs(
        lead, draw, age, notice, need
    )
    assert_allclose(shelf, [[6.0, 6.0]])


def test_drained_shelf_takes_only_what_the_lead_time_reaches():
    left = shelf_draws.drained_shelf(
        [[5, 5], [5, 5]], [[10, 30], [0, 0]], [0, 0, 1], [5, 20, 1], [[1, 2], [2, 1], [4, 4]]
    )
    assert_array_equal(left, [[4, 2], [5, 5]])


def test_drained_parts_are_short_together():
    rng = np.random.default_rng(35)
    n_draws = 4000
    n_jobs = rng.poisson(1.0, n_draws)
    draw = np.repeat(np.arange(n_draws), n_jobs)
    need = np.repeat(rng.integers(0, 2, (len(draw), 1)), 2, axis=1)  # both parts or neither
    shelf = shelf_draws.drained_shelf(
        np.full((n_draws, 2), 2), np.full((n_draws, 2), 10.0), draw, np.zeros(len(draw)), need
    )
    assert_array_equal(shelf[:, 0], shelf[:, 1])
    assert shelf[:, 0].min() < 0


def test_draining_equals_plain_loops():
    rng = np.random.default_rng(51)
    level, lead = rng.integers(0, 9, (6, 4)), rng.uniform(1, 30, (6, 4))
    draw, age, need = rng.integers(0, 6, 40), rng.uniform(0, 40, 40), rng.integers(0, 3, (40, 4))
    expected = level.copy()
    for job in range(40):
        for part in range(4):
            if age[job] < lead[draw[job], part]:
                expected[draw[job], part] -= need[job, part]
    assert_array_equal(shelf_draws.drained_shelf(level, lead, draw, age, need), expected)


def test_announcing_equals_plain_loops():
    rng = np.random.default_rng(52)
    lead, draw = rng.uniform(1, 30, (6, 4)), rng.integers(0, 6, 40)
    age, notice, pieces = rng.uniform(0, 40, 40), rng.uniform(0, 40, 40), rng.uniform(0, 3, (40, 4))
    expected = np.zeros((6, 4))
    for job in range(40):
        for part in range(4):
            reach = lead[draw[job], part]
            if age[job] < reach <= age[job] + notice[job]:
                expected[draw[job], part] += pieces[job, part]
    assert_allclose(shelf_draws.announced_pcs(lead, draw, age, notice, pieces), expected)


def test_a_shelf_no_job_came_to_is_as_it_was():
    none = np.zeros((0, 2))
    assert_array_equal(shelf_draws.drained_shelf([[3, 4]], [[9, 9]], [], [], none), [[3, 4]])
    assert_allclose(shelf_draws.announced_pcs([[9.0, 9.0]], [], [], [], none), [[0, 0]])


def test_the_shelf_handed_in_is_not_changed():
    level = np.array([[3, 3]])
    shelf_draws.drained_shelf(level, [[9, 9]], [0], [1], [[1, 1]])
    assert_array_equal(level, [[3, 3]])


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(InvalidParameter, match="do not fit"):
        shelf_draws.drained_shelf([[1, 2]], [[1, 2]], [0], [1, 2], [[1, 1]])
    with pytest.raises(InvalidParameter, match="do not fit"):
        shelf_draws.announced_pcs([[1.0]], [0], [1.0], [1.0, 2.0], [[1.0]])
