import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy.stats import poisson

from pipeline.errors import InvalidParameter
from pipeline.kernels import equal_share

MEANS = np.array([0.1, 0.8, 3.0, 12.0])
LEAD = poisson.pmf(np.arange(80), MEANS[:, None])
PRICES, ORDER = np.array([25.0, 4.0, 1.0, 0.2]), np.array([1, 2, 5, 10])


@pytest.fixture(scope="module")
def draws():
    """Pieces above the lowest level and pieces drained, 20,000 draws."""
    rng = np.random.default_rng(50)
    return np.floor(rng.random((20_000, 4)) * ORDER), rng.poisson(MEANS, (20_000, 4))


def worth(lowest, draws):
    above, drained = draws
    return sum(np.maximum(lowest[k] + above[:, k] - drained[:, k], 0).mean() * PRICES[k] for k in range(4))


def test_levels_are_the_quantiles_of_lead_time_demand():
    assert_array_equal(equal_share.levels_for_share(LEAD, 0.95), poisson.ppf(0.95, MEANS))


@pytest.mark.parametrize("cash", [6.0, 15.0, 60.0])
def test_the_cash_is_kept_to_and_the_next_share_would_break_it(cash, draws):
    lowest, share, spent = equal_share.levels_for_cash(LEAD, PRICES, cash, *draws)
    assert_allclose(spent, worth(lowest, draws))
    assert spent <= cash
    assert_array_equal(lowest, equal_share.levels_for_share(LEAD, share))
    assert worth(equal_share.levels_for_share(LEAD, min(share + 1e-7, 1.0)), draws) > cash


def test_with_cash_to_spare_every_part_covers_all_it_may_need(draws):
    lowest, share, _ = equal_share.levels_for_cash(LEAD, PRICES, 1e9, *draws)
    assert share > 1 - 1e-9
    assert (lowest >= poisson.ppf(1 - 1e-7, MEANS)).all()


def test_more_cash_never_covers_less(draws):
    shares = [equal_share.levels_for_cash(LEAD, PRICES, cash, *draws)[1] for cash in (1, 5, 20, 50, 100)]
    assert (np.diff(shares) >= 0).all()


def test_the_share_reached_is_the_share_of_draws_that_cover(draws):
    lowest, share, _ = equal_share.levels_for_cash(LEAD, PRICES, 30.0, *draws)
    covered = (draws[1] <= lowest).mean(axis=0)
    assert (covered >= share - 0.01).all()
    assert ((draws[1] <= lowest - 1).mean(axis=0) < share + 0.01).all()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"unit_prices": [-1, 1, 1, 1]}, "unit_prices is -1"),
        ({"cash_amount": -5}, "cash_amount is -5"),
        ({"drained_pcs": np.zeros((3, 4))}, "do not fit"),
        ({"lead_pmf": LEAD[:, :3]}, "lengthen the grid"),
    ],
)
def test_arguments_out_of_range_are_refused(change, said, draws):
    arguments = {
        "lead_pmf": LEAD,
        "unit_prices": PRICES,
        "cash_amount": 10,
        "above_pcs": draws[0],
        "drained_pcs": draws[1],
    }
    with pytest.raises(InvalidParameter, match=said):
        equal_share.levels_for_cash(**(arguments | change))
