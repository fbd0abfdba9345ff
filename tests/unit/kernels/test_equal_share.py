import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels import equal_share
from pipeline.kernels.loss import discrete_loss

MEANS = np.array([0.1, 0.8, 3.0, 12.0])
LEAD = poisson.pmf(np.arange(80), MEANS[:, None])
PRICES, ORDER = np.array([25.0, 4.0, 1.0, 0.2]), np.array([1, 2, 5, 10])


def average_worth(reorder_point, order):
    """Value of the average stock by plain sums: the referee."""
    _, left = discrete_loss(np.concatenate([LEAD, np.zeros((4, 200))], axis=1))
    held = [
        np.mean([left[k, r + 1 + step] for step in range(q)])
        for k, (r, q) in enumerate(zip(reorder_point, order, strict=True))
    ]
    return float(np.dot(held, PRICES))


def test_levels_are_the_quantiles_of_lead_time_demand():
    assert_array_equal(equal_share.levels_for_share(LEAD, 0.95), poisson.ppf(0.95, MEANS))


@pytest.mark.parametrize("cash", [2.0, 10.0, 60.0, 400.0])
def test_the_cash_is_kept_to_and_the_next_share_would_break_it(cash):
    reorder_point, share, spent = equal_share.levels_for_cash(LEAD, PRICES, cash, ORDER)
    assert_allclose(spent, average_worth(reorder_point, ORDER))
    assert spent <= cash
    assert_array_equal(reorder_point + 1, equal_share.levels_for_share(LEAD, share))
    more = equal_share.levels_for_share(LEAD, min(share + 1e-9, 1.0)) - 1
    assert average_worth(more, ORDER) > cash or share > 1 - 1e-9


def test_more_cash_never_covers_less():
    shares = [equal_share.levels_for_cash(LEAD, PRICES, cash, ORDER)[1] for cash in (1, 5, 20, 50, 100)]
    assert (np.diff(shares) >= 0).all()


def test_a_price_of_zero_is_refused():
    with pytest.raises(InvalidParameter, match="unit_prices is 0"):
        equal_share.levels_for_cash(LEAD, [0, 1, 1, 1], 10, ORDER)
