"""Why a total changed: worked by hand, what must add up, and what happens without a job."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.change_split import split_change


def test_the_variances_of_a_sales_budget_by_hand():
    # Worked by hand: budget 300 A at 20 and 100 B at 60 (12,000; 30 each); now 300 A and 200 B.
    # Quantity: 100 more at 30 = 3,000. Mix: at 500, A is 0.60 for 0.75: 500 x (-0.15 x 20 + 0.15 x 60) = 3,000.
    number, mix, each = split_change([[300, 100]], [[300, 200]], [[20, 60]], [12000], [300 * 20 + 200 * 60])
    assert_allclose([number[0], mix[0], each[0]], [3000, 3000, 0], atol=1e-9)


def test_what_earlier_jobs_took_beside_the_usual_is_the_rest():
    number, mix, each = split_change([[2, 1]], [[2, 1]], [[10, 50]], [100], [70])
    assert_allclose([number[0], mix[0], each[0]], [0, 0, -30])


def test_parts_add_up_to_the_change_whatever_comes():
    rng = np.random.default_rng(3)
    before, now = rng.poisson(2, (50, 3)), rng.gamma(1, 2, (50, 3))
    first, last = rng.gamma(1, 90, 50), rng.gamma(1, 90, 50)
    assert_allclose(sum(split_change(before, now, rng.gamma(1, 30, (50, 3)), first, last)), last - first, atol=1e-9)


def test_the_same_mix_has_no_mix_effect_and_the_same_number_no_number_effect():
    number, mix, _ = split_change([[1, 3]], [[2, 6]], [[7, 90]], [0], [0])
    assert_allclose(mix, 0, atol=1e-12)
    assert_allclose(number, 4 * (0.25 * 7 + 0.75 * 90))
    assert_allclose(split_change([[1, 3]], [[3, 1]], [[7, 90]], [0], [0])[0], 0)


def test_without_a_job_before_all_is_number_and_without_one_now_too():
    assert_allclose(np.ravel(split_change([[0, 0]], [[1, 2]], [[10, 50]], [0], [110])), [110, 0, 0])
    assert_allclose(np.ravel(split_change([[1, 2]], [[0, 0]], [[10, 50]], [110], [0])), [-110, 0, 0])


def test_a_kind_nobody_does_may_be_unknown():
    found = split_change([[2, 0]], [[3, 0]], [[10, np.nan]], [20], [30])
    assert_allclose(np.ravel(found), [10, 0, 0])


@pytest.mark.parametrize("bad", [
    ([[1, 2]], [[1, 2, 3]], [[1, 2]], [1], [1]),
    ([[1, 2]], [[1, 2]], [[1, 2]], [1, 2], [1]),
    ([[-1, 2]], [[1, 2]], [[1, 2]], [1], [1]),
])
def test_shapes_and_negative_jobs_are_refused(bad):
    with pytest.raises(InvalidParameter, match="wanted"):
        split_change(*bad)
