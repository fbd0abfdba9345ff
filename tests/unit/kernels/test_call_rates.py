import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.call_rates import rate_quantile, shrunk_rates


def test_groups_that_look_alike_become_alike():
    alpha, beta = shrunk_rates([5, 2, 0], [120, 60, 20])
    assert np.ptp(alpha / beta) < 0.02


def test_groups_that_differ_beyond_doubt_stay_apart():
    alpha, beta = shrunk_rates([400, 20], [1000, 1000])
    assert_allclose(alpha / beta, [0.4, 0.02], rtol=0.08)


def test_none_seen_is_not_never():
    alpha, beta = shrunk_rates([0, 0], [10, 0])
    assert (alpha / beta > 0).all()
    assert (rate_quantile(0.9, alpha, beta) < 0.3).all()


def test_a_group_never_watched_is_wider_than_the_others():
    alpha, beta = shrunk_rates([6, 5, 0], [100, 90, 0])
    width = rate_quantile(0.9, alpha, beta) - rate_quantile(0.1, alpha, beta)
    assert width[2] > width[:2].max()


def test_interval_covers_as_said():
    rng = np.random.default_rng(0)
    held = []
    for _ in range(500):
        rate = rng.gamma(4, 0.05 / 4, 3)
        exposure = rng.uniform(20, 150, 3)
        alpha, beta = shrunk_rates(rng.poisson(rate * exposure), exposure)
        held.append((rate_quantile(0.1, alpha, beta) < rate) & (rate < rate_quantile(0.9, alpha, beta)))
    assert 0.74 < np.mean(held) < 0.87


def test_refuses_negative_events():
    with pytest.raises(InvalidParameter, match="events"):
        shrunk_rates([-1], [3])
