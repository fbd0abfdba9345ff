import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.errors import InvalidParameter
from pipeline.kernels.mean_cumulative import mean_cumulative, mean_cumulative_at


def test_jobs_without_a_call_count():
    time, mean, _ = mean_cumulative([4.0], [0], [10, 10, 10, 10])
    assert (time.tolist(), mean.tolist()) == ([4.0], [0.25])


def test_all_watched_alike_is_the_mean_count_and_its_standard_error():
    # with equal watches the variance is the plain one of a mean: sum (x - mean)^2 / n^2
    calls = np.array([0, 3, 1, 0, 2])
    job = np.repeat(np.arange(5), calls)
    _, mean, sd = mean_cumulative(np.arange(1, 7.0), job, np.full(5, 100.0))
    assert_allclose(mean[-1], calls.mean())
    assert_allclose(sd[-1], np.sqrt(((calls - calls.mean()) ** 2).sum()) / 5)


def test_interval_covers_the_true_mean_about_as_often_as_it_says():
    rng = np.random.default_rng(3)
    hits = 0
    for _ in range(300):
        end = rng.uniform(50, 150, 60)
        calls = rng.poisson(0.01 * rng.gamma(2, 0.5, 60) * end)
        job = np.repeat(np.arange(60), calls)
        time, mean, sd = mean_cumulative(rng.random(job.size) * end[job], job, end)
        _, low, high = mean_cumulative_at(time, mean, sd, 100.0, level=0.8)
        hits += low <= 1.0 <= high
    assert 0.73 < hits / 300 < 0.87


def test_before_the_first_call_nothing_is_expected():
    found = mean_cumulative_at(*mean_cumulative([5.0], [0], [9, 9]), horizon=[1.0, 6.0])
    assert_allclose(found[0], [0.0, 0.5])


def test_refuses_a_call_after_the_watch():
    with pytest.raises(InvalidParameter, match="after its watch ended"):
        mean_cumulative([12.0], [0], [10.0])


def test_refuses_a_job_that_is_not_there():
    with pytest.raises(InvalidParameter, match="index into the 1 jobs"):
        mean_cumulative([2.0], [1], [10.0])


def test_refuses_uneven_lengths():
    with pytest.raises(InvalidParameter, match="one job per event"):
        mean_cumulative([2.0, 3.0], [0], [10.0])
