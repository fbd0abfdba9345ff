"""First guesses of what a judgement tells, and the points that stand for its uncertainty."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from pipeline.models import judgement


@pytest.mark.parametrize("n_dimensions", [1, 2, 3])
def test_points_have_mean_0_and_covariance_1(n_dimensions):
    points = judgement.normal_points(n_dimensions)
    assert points.shape == (16, n_dimensions)
    assert_allclose(points.mean(axis=0), 0, atol=1e-12)
    assert_allclose(points.T @ points / 16, np.eye(n_dimensions), atol=1e-12)


def test_each_margin_is_spread_like_a_normal():
    wanted = norm.ppf((np.arange(16) + 0.5) / 16)
    for margin in judgement.normal_points().T:
        # stretched by 4 %, since sixteen middles vary a little less than the normal itself
        assert_allclose(np.sort(margin), wanted, atol=0.1)


def test_the_guess_is_about_unjudged_pieces():
    mean, sd = judgement.effect_prior()
    place = judgement.JUDGED.index("unjudged")
    assert (mean[place], sd[place]) == (0.0, 0.0)
    assert (np.delete(sd, place) > 0).all()


def test_the_guess_puts_worn_below_unjudged_below_partly_below_good():
    mean = dict(zip(judgement.JUDGED, judgement.effect_prior()[0], strict=True))
    assert mean["worn"] < mean["unjudged"] < mean["partly"] < mean["good"]


def test_every_scope_and_every_finding_has_its_judgement():
    assert set(judgement.BY_SCOPE) == {"fix_only", "refresh", "thorough"}
    assert set(judgement.BY_SCOPE.values()) | set(judgement.BY_FINDING.values()) == set(judgement.JUDGED)
    assert sorted(judgement.WORST_FIRST) == sorted(judgement.JUDGED)


def test_the_guess_follows_from_the_mixture_it_is_explained_by():
    # a quarter worn with a third of the life, at a shape of 1.7: first failures as of one Weibull life
    def early(worn_share):
        return -np.log(1 - worn_share + worn_share * 3.0**1.7) / 1.7

    mean = dict(zip(judgement.JUDGED, judgement.effect_prior()[0], strict=True))
    assert_allclose(mean["good"], early(0) - early(1 / 4), atol=0.02)
    assert_allclose(mean["partly"], early(1 / 8) - early(1 / 4), atol=0.02)
    assert_allclose(mean["worn"], -np.log(3) - early(1 / 4), atol=0.02)
