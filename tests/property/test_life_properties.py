"""Properties of lives and of the choice between now and later."""

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from pipeline.kernels.product_limit import product_limit
from pipeline.kernels.renewal_function import weibull_renewals
from pipeline.kernels.scope import break_even_failures, companion_pieces, failures_avoided, opened_assemblies
from pipeline.kernels.weibull import survival, weibull_fit

times = st.lists(st.tuples(st.floats(0.5, 500), st.booleans()), min_size=1, max_size=30)
shapes, scales = st.floats(0.6, 5), st.floats(10, 1000)


@given(times)
def test_product_limit_falls_and_stays_a_share(rows):
    time, is_failed = np.array(rows).T
    event_time, share = product_limit(time, is_failed.astype(bool))
    assert (np.diff(event_time) > 0).all()
    assert (np.diff(np.concatenate([[1.0], share])) < 0).all()
    assert (share >= 0).all()


@given(times)
def test_weibull_is_fitted_exactly_where_a_maximum_exists(rows):
    time, is_failed = np.array(rows).T
    is_failed = is_failed.astype(bool)
    fit = weibull_fit(time, is_failed)
    gap = np.log(time.max()) - np.log(time[is_failed]).mean() if is_failed.any() else -1.0
    assume(not 0 < gap < 1e-9)
    assert (fit.reason[0] == "") == (gap > 1e-9)
    assert np.isfinite(fit.shape[0]) == (gap > 1e-9)


@settings(max_examples=50, deadline=None)
@given(scales, shapes, st.floats(1, 2000))
def test_renewals_lie_between_the_first_failure_and_its_bounds(scale, shape, time):
    assume(time / scale < 20)
    share = 1 - survival(time, scale, shape)
    expected = float(weibull_renewals(time, scale, shape))
    assert expected >= share - 1e-6
    if shape >= 1:  # wear-out: a new piece fails less often than one patched up at its age
        assert expected <= (time / scale) ** shape + 1e-5


@settings(max_examples=50, deadline=None)
@given(scales, st.floats(1, 1000), st.floats(0, 500))
def test_lives_without_memory_never_make_early_replacement_pay(scale, horizon, age):
    assume(horizon / scale < 50)
    kept = weibull_renewals(horizon, scale, 1.0, age=age)
    new = weibull_renewals(horizon, scale, 1.0)
    avoided = failures_avoided(1.0, kept, new)
    assert_allclose(avoided, 0, atol=1e-5 * (1 + horizon / scale))
    assert avoided < break_even_failures(1.0, 250.0)


@settings(max_examples=50, deadline=None)
@given(scales, st.floats(1.2, 5), st.floats(0.3, 1.0), st.floats(0.2, 1.2))
def test_a_piece_that_wears_out_gains_from_replacement_early_on(scale, shape, age_share, horizon_share):
    kept = weibull_renewals(horizon_share * scale * 0.5, scale, shape, age=age_share * scale)
    new = weibull_renewals(horizon_share * scale * 0.5, scale, shape)
    assert kept > new


quantities = st.lists(st.tuples(st.integers(1, 6), st.floats(0, 1)), min_size=1, max_size=6)


@given(quantities, st.integers(1, 4))
def test_opening_grows_with_what_is_done_and_never_passes_the_copies(rows, copies):
    per_copy, share = np.array(rows).T
    held, assembly = per_copy * copies, np.zeros(len(rows), dtype=int)
    some = opened_assemblies(share * held, held, assembly, [copies])
    more = opened_assemblies(np.minimum(share + 0.1, 1) * held, held, assembly, [copies])
    assert -1e-12 <= some[0] <= more[0] + 1e-12
    assert more[0] <= copies + 1e-12


@given(st.floats(0, 8), st.floats(0, 8), st.floats(0, 8))
def test_two_triggers_of_one_companion_never_bring_more_than_the_larger(first, second, already):
    rules = {"target": np.array([2, 2]), "share": np.ones(2), "qty_pcs": np.ones(2), "per": np.zeros(2)}
    line = (np.array([0, 1]), np.array([0, 1]))
    added = companion_pieces([first, second, already], [8, 8, 8], line, [0, 0, 0], [8], rules)
    assert_allclose(added[2], max(max(first, second) - already, 0), atol=1e-12)
    assert added[0] == added[1] == 0
