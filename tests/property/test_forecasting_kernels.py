"""What must hold of the forecasting kernels whatever they are given."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from pipeline.kernels import compound, delays, discrete, intermittent, job_pipeline, pieces_per_use, scores, use_share
from pipeline.kernels.compound import JobRows, UseRows

shares = st.floats(0, 1)
positive = st.floats(0.05, 40)


@st.composite
def pmfs(draw, most_rows=4):
    shape = draw(st.tuples(st.integers(1, most_rows), st.integers(1, 12)))
    weights = draw(arrays.arrays(float, shape, elements=st.floats(0.001, 1)))
    return weights / weights.sum(axis=1, keepdims=True)


@st.composite
def windows(draw):
    n, known = draw(st.integers(1, 4)), draw(st.integers(0, 3))
    row = arrays.arrays(float, n, elements=positive)
    weights = draw(arrays.arrays(float, (n, 2, draw(st.integers(1, 5))), elements=st.floats(0.01, 1)))
    pieces = np.concatenate([np.zeros((n, 2, 1)), weights / weights.sum(axis=2, keepdims=True)], axis=2)
    first = draw(arrays.arrays(float, (n, 1), elements=shares))
    use = UseRows(draw(row), draw(row), pieces, np.concatenate([first, 1 - first], axis=1))
    share = draw(arrays.arrays(float, (n, known), elements=shares))
    done = (1 - share) * draw(arrays.arrays(float, (n, known), elements=shares))
    mean = draw(arrays.arrays(float, n, elements=st.floats(0, 8)))
    return use, JobRows(share, done, mean, draw(arrays.arrays(float, n, elements=st.floats(-1, 3))))


@settings(max_examples=40, deadline=None)
@given(windows())
def test_a_window_is_a_distribution_with_the_stated_moments(window):
    mean, variance = compound.moments(*window)
    for row, pmf in enumerate(compound.predictive_pmfs(*window)):
        assert (pmf >= 0).all() and 1 - 1e-7 <= pmf.sum() <= 1 + 1e-9
        pieces = np.arange(pmf.size)
        assert_allclose(pmf @ pieces, mean[row], rtol=1e-4, atol=1e-4)
        assert pmf @ pieces**2 - mean[row] ** 2 <= variance[row] * (1 + 1e-3) + 1e-3
        # Jensen: doubt shared by the jobs can only widen what independent pieces would show.
        assert variance[row] >= -1e-9


@settings(max_examples=40, deadline=None)
@given(windows(), st.floats(0.1, 0.9))
def test_more_of_a_window_means_stochastically_more_pieces(window, factor):
    use, jobs = window
    # Streams wide or even: a share of their jobs. (Trials rounded up anew would change what is thinned.)
    excess = np.maximum(jobs.unbooked_excess, 0)
    jobs = replace(jobs, unbooked_excess=excess)
    less = JobRows(jobs.known_share * factor, jobs.done_share, jobs.unbooked_mean * factor, excess * factor)
    for more, fewer in zip(compound.predictive_pmfs(use, jobs), compound.predictive_pmfs(use, less), strict=True):
        short = min(more.size, fewer.size)
        assert (np.cumsum(fewer)[:short] >= np.cumsum(more)[:short] - 1e-7).all()


@given(pmfs(), st.lists(st.floats(0.01, 0.99), min_size=1, max_size=5))
def test_quantiles_bracket_their_level(pmf, levels):
    found = discrete.quantiles(pmf, levels)
    cumulative = np.concatenate([np.zeros((len(pmf), 1)), np.cumsum(pmf, axis=1)], axis=1)
    reached = np.take_along_axis(cumulative, found + 1, axis=1)
    before = np.take_along_axis(cumulative, found, axis=1)
    assert (reached >= np.array(levels) - 1e-9).all()
    assert (before < np.array(levels) + 1e-9).all()


@given(pmfs(most_rows=1), pmfs(most_rows=1))
def test_convolution_adds_means_and_variances(first, second):
    both = discrete.convolve(first, second)
    assert_allclose(discrete.mean(both), discrete.mean(first) + discrete.mean(second), atol=1e-9)
    assert_allclose(discrete.variance(both), discrete.variance(first) + discrete.variance(second), atol=1e-7)
    assert_allclose(both, discrete.convolve(second, first), atol=1e-12)


@given(pmfs(most_rows=1), pmfs(most_rows=1))
def test_the_true_distribution_scores_best_on_average(truth, other):
    seen = np.arange(truth.shape[1])
    own = truth[0] @ scores.crps_pmf(np.repeat(truth, seen.size, axis=0), seen)
    others = truth[0] @ scores.crps_pmf(np.repeat(other, seen.size, axis=0), seen)
    assert own <= others + 1e-9


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20), st.integers(0, 5)), min_size=1, max_size=30))
def test_whatever_the_counts_shrinkage_lies_between_the_cell_and_its_belief_before(cells):
    used, missed, part = (np.array(column) for column in zip(*cells, strict=True))
    seen, scope = used + missed, part % 2
    slopes = np.eye(2)[scope]
    found = use_share.fit(used, seen, use_share.Cells(part, (part, scope), slopes))
    alpha, beta = use_share.beta_belief(found.other_mean, found.other_variance)
    before = alpha / (alpha + beta)
    after = (alpha + used) / (alpha + beta + seen)
    raw = np.where(seen > 0, used / np.maximum(seen, 1), before)
    assert (after <= np.maximum(before, raw) + 1e-9).all() and (after >= np.minimum(before, raw) - 1e-9).all()


@given(st.lists(st.tuples(st.integers(0, 300), st.integers(0, 8)), min_size=1, max_size=20), st.randoms())
def test_order_of_cells_does_not_matter_to_the_pooled_mean(cells, shuffle):
    order = list(range(len(cells)))
    shuffle.shuffle(order)
    total, count = (np.array(column, dtype=float) for column in zip(*cells, strict=True))
    pool = np.arange(len(cells)) % 3
    pool = np.unique(pool, return_inverse=True)[1]
    straight = pieces_per_use.nested_mean(total, count, total / 2, pool)
    shuffled = pieces_per_use.nested_mean(total[order], count[order], total[order] / 2, pool[order])
    assert_allclose(shuffled, straight[order], rtol=1e-9)


@given(st.lists(st.floats(0, 400), min_size=1, max_size=30), st.floats(0, 500), st.floats(0, 400))
def test_delays_are_distributions_and_exposure_never_exceeds_the_window(waits, elapsed, window):
    delay = delays.fit_delay(waits, np.ones(len(waits), dtype=bool))
    assert_allclose(delay.share.sum() + delay.tail_share, 1)
    assert 0 <= delays.exposure_days(delay, window) <= window
    assert 0 <= delays.window_share(delay, [elapsed], window)[0] <= 1
    # Two windows on end: the second conditional on the first having brought nothing.
    first = delays.window_share(delay, [elapsed], window)[0]
    second = delays.window_share(delay, [elapsed + window], window)[0]
    assert_allclose(1 - (1 - first) * (1 - second), delays.window_share(delay, [elapsed], 2 * window)[0], atol=1e-9)


@given(st.lists(st.integers(0, 60), min_size=6, max_size=6), st.floats(30, 3000))
def test_rates_are_positive_and_add_up_to_the_shop(bookings, exposure):
    family, scope = np.repeat([0, 1], 3), np.tile([0, 1, 2], 2)
    shape, rate_days, _ = job_pipeline.booking_rate(bookings, exposure, family, scope)
    assert (shape > 0).all() and (rate_days > 0).all()
    assert_allclose((shape / rate_days).sum() * exposure, sum(bookings) + 0.5, rtol=1e-9)


@given(arrays.arrays(int, st.tuples(st.integers(1, 30), st.integers(1, 5)), elements=st.integers(0, 6)),
       st.integers(2, 9))
def test_calendar_forecasts_scale_with_the_pieces(series, factor):
    for method in (intermittent.mean_rate, intermittent.croston, intermittent.syntetos_boylan,
                   intermittent.teunter_syntetos_babai, intermittent.aggregate_disaggregate):
        assert_allclose(method(series * factor), factor * method(series), rtol=1e-9)
        assert_array_equal(method(series) == 0, series.sum(axis=0) == 0)


@given(st.floats(0.1, 6), st.integers(0, 25))
def test_the_transform_stays_inside_the_observed_step(mean, seen):
    pmf = stats.poisson(mean).pmf(np.arange(80))
    place = scores.randomised_pit(pmf, [seen], np.random.default_rng(0))[0]
    assert stats.poisson(mean).cdf(seen - 1) - 1e-9 <= place <= stats.poisson(mean).cdf(seen) + 1e-9
