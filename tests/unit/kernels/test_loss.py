import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate
from scipy.stats import norm, poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels import loss


@pytest.mark.parametrize("z", [-3.0, -0.4, 0.0, 1.7, 4.0])
def test_normal_loss_is_the_integral_of_the_upper_tail(z):
    tail, _ = integrate.quad(norm.sf, z, np.inf, epsabs=1e-13)
    assert_allclose(loss.normal_loss(z), tail, atol=1e-10)


@pytest.mark.parametrize("z", [-2.0, 0.0, 1.3])
def test_second_loss_is_the_integral_of_the_first(z):
    area, _ = integrate.quad(loss.normal_loss, z, 40, epsabs=1e-13)
    assert_allclose(loss.normal_second_loss(z), area, atol=1e-10)


def test_normal_loss_far_out_is_never_negative():
    assert (loss.normal_loss(np.linspace(5, 60, 200)) >= 0).all()


def test_discrete_loss_equals_the_plain_sums():
    pmf = poisson.pmf(np.arange(60), 7.5)
    short, left = loss.discrete_loss(pmf)
    demand = np.arange(60)
    for level in range(0, 30):
        assert_allclose(short[level], (np.maximum(demand - level, 0) * pmf).sum(), atol=1e-12)
        assert_allclose(left[level], (np.maximum(level - demand, 0) * pmf).sum(), atol=1e-12)


def test_discrete_loss_keeps_small_tails():
    # far out the shortage is tiny but never lost to a difference of large numbers
    pmf = poisson.pmf(np.arange(80), 2.0)
    short, _ = loss.discrete_loss(pmf)
    assert_allclose(short[25], poisson.expect(lambda d: d - 25, args=(2.0,), lb=26, ub=79), rtol=1e-9)


def test_level_cost_is_linear_where_demand_cannot_reach():
    cost = loss.level_cost([[0.25, 0.5, 0.25]], [2.0], [7.0], [-3], 9)[0]
    assert_allclose(cost[:4], 7.0 * (1 + np.array([3, 2, 1, 0])))
    assert_allclose(cost[5:], 2.0 * (np.arange(2, 6) - 1))


def test_level_cost_starts_each_item_at_its_own_level():
    both = loss.level_cost([[0.5, 0.5], [0.1, 0.9]], [1, 2], [3, 4], [-1, 2], 3)
    assert_allclose(both[0], loss.level_cost([[0.5, 0.5]], [1], [3], [-1], 3)[0])
    assert_allclose(both[1], loss.level_cost([[0.1, 0.9]], [2], [4], [2], 3)[0])


def test_fill_rate_refuses_an_order_of_nothing():
    with pytest.raises(InvalidParameter, match="order_pcs is 0"):
        loss.fill_rate(1, 0)
