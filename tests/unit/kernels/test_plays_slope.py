"""The slope on plays: recovered where there is one, refused where not."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize
from scipy.special import expit, log_expit

from pipeline.errors import InvalidParameter
from pipeline.kernels import plays_slope


def drawn(slope, n_jobs=60, n_parts=25, seed=2):
    rng = np.random.default_rng(seed)
    job, part = (index.ravel() for index in np.indices((n_jobs, n_parts)))
    plays = rng.normal(size=n_jobs)[job]
    offset = rng.normal(-0.5, 1, n_parts)[part]
    stratum = job % 2
    used = rng.random(job.size) < expit(offset + np.asarray(slope)[stratum] * plays)
    return used, offset, plays, stratum, job


def test_slopes_are_recovered_stratum_by_stratum():
    assert_allclose(plays_slope.fit_slopes(*drawn((0.8, 0.0))[:4]), [0.8, 0.0], atol=0.2)


def test_a_slope_is_the_maximum_that_a_general_optimiser_finds():
    used, offset, plays, _, _ = drawn((0.6, 0.6), n_jobs=10)

    def loss(slope):
        return slope**2 / 2 / plays_slope.SLOPE_SD**2 - log_expit((2 * used - 1) * (offset + slope * plays)).sum()

    best = optimize.minimize_scalar(loss).x
    assert_allclose(plays_slope.fit_slopes(used, offset, plays, np.zeros(used.size, int)), [best], atol=1e-6)


def test_plays_that_matter_gain_on_jobs_held_out_and_others_do_not():
    gain, error = plays_slope.held_out_gain(*drawn((0.8, 0.8)))
    assert gain > 3 * error
    gain, error = plays_slope.held_out_gain(*drawn((0.0, 0.0)))
    assert gain < error


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: plays_slope.fit_slopes([True], [0.0], [np.nan], [0]), "finite"),
        (lambda: plays_slope.fit_slopes([True], [0.0], [1.0, 2.0], [0]), "wanted one each"),
        (lambda: plays_slope.held_out_gain([True] * 3, [0.0] * 3, [1.0] * 3, [0] * 3, [0, 1, 2]), "3 jobs apart"),
    ],
)
def test_bad_input_is_refused(call, message):
    with pytest.raises(InvalidParameter, match=message):
        call()
