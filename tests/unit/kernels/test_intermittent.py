"""Calendar forecasts of sparse series: each against a plain one-series recursion, edges and refusals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels import intermittent


@pytest.fixture
def series():
    rng = np.random.default_rng(7)
    made = rng.poisson(1.5, (48, 60)) * (rng.random((48, 60)) < rng.uniform(0.05, 0.9, 60))
    made[:, 0], made[:, 1] = 0, 2
    return made


def plain_croston(y, alpha):
    size = interval = None
    since = 0
    for value in y:
        since += 1
        if value > 0:
            size = value if size is None else size + alpha * (value - size)
            interval = since if interval is None else interval + alpha * (since - interval)
            since = 0
    return 0.0 if size is None else size / interval


def plain_tsb(y, of_size, of_use):
    used = [v for v in y if v > 0]
    if not used:
        return 0.0
    chance, size, is_first = float(y[0] > 0), used[0], y[0] == 0
    for value in y[1:]:
        chance += of_use * ((value > 0) - chance)
        if value > 0:
            size = size if is_first else size + of_size * (value - size)
            is_first = False
    return chance * size


def plain_aggregate(y, alpha):
    used = [i + 1 for i, v in enumerate(y) if v > 0]
    length = min(max(round(used[-1] / len(used)), 1), len(y)) if used else len(y)
    kept = list(y[len(y) % length :])
    blocks = [sum(kept[i : i + length]) for i in range(0, len(kept), length)]
    level = blocks[0]
    for block in blocks[1:]:
        level += alpha * (block - level)
    return level / length


def test_croston_equals_one_series_at_a_time(series):
    assert_allclose(intermittent.croston(series, 0.15), [plain_croston(y, 0.15) for y in series.T], atol=1e-12)


def test_tsb_equals_one_series_at_a_time(series):
    found = intermittent.teunter_syntetos_babai(series, 0.2, 0.05)
    assert_allclose(found, [plain_tsb(y, 0.2, 0.05) for y in series.T], atol=1e-12)


def test_aggregation_equals_one_series_at_a_time(series):
    found = intermittent.aggregate_disaggregate(series, 0.2)
    assert_allclose(found, [plain_aggregate(list(y), 0.2) for y in series.T], atol=1e-12)


def test_sba_is_croston_less_half_the_smoothing(series):
    assert_allclose(intermittent.syntetos_boylan(series, 0.2), 0.9 * intermittent.croston(series, 0.2))


def test_a_series_without_use_is_forecast_as_none(series):
    for method in (intermittent.mean_rate, intermittent.croston, intermittent.syntetos_boylan,
                   intermittent.teunter_syntetos_babai, intermittent.aggregate_disaggregate):
        assert method(series)[0] == 0


def test_a_steady_series_is_forecast_as_itself(series):
    for method in (intermittent.mean_rate, intermittent.croston, intermittent.teunter_syntetos_babai,
                   intermittent.aggregate_disaggregate):
        assert_allclose(method(series)[1], 2.0)


def test_trailing_zeros_move_tsb_and_not_croston():
    used, faded = np.array([[1], [0], [1]]), np.array([[1], [0], [1], [0], [0], [0]])
    assert intermittent.croston(used)[0] == intermittent.croston(faded)[0]
    assert intermittent.teunter_syntetos_babai(faded)[0] < intermittent.teunter_syntetos_babai(used)[0]


def test_blocks_end_with_the_newest_period():
    # Intervals 2 and 3: blocks of two (2.5 rounds to even) from the newest end; the first period is left out.
    assert_allclose(intermittent.aggregate_disaggregate([[0], [6], [0], [0], [4]], 1.0), [4 / 2])


def test_sizes_and_intervals_of_one_series():
    size, interval = intermittent.sizes_and_intervals([0, 0, 3, 1, 0])
    assert_array_equal(size, [3, 1])
    assert_array_equal(interval, [3, 1])


def test_input_is_not_changed(series):
    before = series.copy()
    intermittent.teunter_syntetos_babai(series)
    intermittent.aggregate_disaggregate(series)
    assert_array_equal(series, before)


@pytest.mark.parametrize("bad", [[1, 2, 3], np.empty((0, 3)), [[np.nan]], [[-1.0]]])
def test_bad_series_are_refused(bad):
    with pytest.raises(InvalidParameter, match="series_pcs"):
        intermittent.croston(bad)


@pytest.mark.parametrize("smoothing", [0, -0.1, 1.5])
def test_bad_smoothing_is_refused(smoothing):
    with pytest.raises(InvalidParameter, match="smoothing_share"):
        intermittent.syntetos_boylan([[1]], smoothing)
