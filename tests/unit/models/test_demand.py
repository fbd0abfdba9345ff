"""Pieces in a window: distributions by family and part, their sums, and what must hold between them."""

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.kernels.compound import UseRows
from pipeline.models import demand
from pipeline.models.use_per_job import UsePerJob
from tests.support.jobs_to_come import SMOOTH, jobs_of

SURE = 1e9, 1e-3  # Beta parameters of a share of one


def use_of(*cells):
    """Beliefs: (family, scope, part, alpha, beta) a row, one piece if used, ten jobs seen."""
    rates = pd.DataFrame([cell[:3] for cell in cells], columns=["family", "scope", "part"]).assign(jobs_seen=10)
    numbers = [np.array([cell[i] for cell in cells], dtype=float) for i in (3, 4)]
    one_piece = np.tile([0.0, 1.0], (len(cells), 1, 1))
    return UsePerJob(rates, UseRows(*numbers, one_piece, np.ones((len(cells), 1))), SMOOTH, pd.DataFrame())


NO_STREAM = [("em", "thorough", 0.0), ("ss", "thorough", 0.0), ("em", "fix_only", 0.0)]



def test_a_sure_part_of_two_booked_jobs_is_two_pieces():
    use = use_of(("em", "thorough", "coil", *SURE))
    known = [("K1", "em", "thorough", 10, 0.0), ("K2", "em", "thorough", 20, 0.0)]
    predicted = demand.predict(use, jobs_of(known, NO_STREAM), 91)
    assert_allclose(predicted.pmf("coil", "em")[:3], [0, 0, 1], atol=1e-6)
    row = predicted.by_family.iloc[0]
    assert_allclose(row["expected_pcs"], 2, atol=1e-6)
    assert_array_equal(row[list(demand.LEVELS)].astype(int), 2)


def test_a_job_beyond_the_window_adds_nothing():
    use = use_of(("em", "thorough", "coil", *SURE))
    pipeline = jobs_of([("K1", "em", "thorough", 200, 0.0)], NO_STREAM)
    assert_allclose(demand.predict(use, pipeline, 91).by_part["expected_pcs"], 0, atol=1e-6)
    assert_allclose(demand.predict(use, pipeline, 365).by_part["expected_pcs"], 1, atol=1e-6)


def test_doubt_about_a_share_is_shared_by_its_jobs():
    # Ten booked jobs, share Beta(3, 2): sd 2.45, not the 1.55 of ten independent ones.
    known = [(f"K{i}", "em", "thorough", 1, 0.0) for i in range(10)]
    pmf = demand.predict(use_of(("em", "thorough", "coil", 3, 2)), jobs_of(known, NO_STREAM), 91).pmf("coil")
    pieces = np.arange(pmf.size)
    assert_allclose(np.sqrt(pmf @ pieces**2 - (pmf @ pieces) ** 2), np.sqrt(6), atol=1e-3)


def test_scopes_and_families_add_up_by_part():
    use = use_of(("em", "thorough", "coil", 4, 2), ("em", "fix_only", "coil", 1, 9), ("ss", "thorough", "coil", 2, 2))
    streams = [("em", "thorough", 0.05), ("em", "fix_only", 0.15), ("ss", "thorough", 0.03)]
    predicted = demand.predict(use, jobs_of((), streams), 91)
    em, ss = predicted.pmf("coil", "em"), predicted.pmf("coil", "ss")
    whole = predicted.pmf("coil")
    wanted = np.convolve(em, ss)
    assert_allclose(whole[:30], wanted[:30], atol=1e-8)
    assert_allclose(predicted.by_part["expected_pcs"].sum(), predicted.by_family["expected_pcs"].sum(), rtol=1e-6)
    # Quantiles do not add up: the 95 % of both together is below the sum of the two.
    assert predicted.by_part["q95_pcs"].iloc[0] < predicted.by_family["q95_pcs"].sum()


def test_jobs_seen_of_a_part_are_counted_once_per_family_and_scope():
    use = use_of(("em", "thorough", "coil", 4, 2), ("em", "fix_only", "coil", 1, 9), ("ss", "thorough", "coil", 2, 2))
    predicted = demand.predict(use, jobs_of((), NO_STREAM), 91)
    assert predicted.by_family.set_index("family")["jobs_seen"].to_dict() == {"em": 20, "ss": 10}
    assert predicted.by_part["jobs_seen"].tolist() == [30]


def test_what_a_running_job_has_taken_it_does_not_take_again():
    use = use_of(("em", "thorough", "coil", *SURE), ("em", "thorough", "sleeve", *SURE))
    known = [("K1", "em", "thorough", 2, 0.5)]
    predicted = demand.predict(use, jobs_of(known, NO_STREAM, [("K1", "coil")]), 91)
    means = predicted.by_part.set_index("part")["expected_pcs"]
    assert_allclose(means["coil"], 0, atol=1e-6)
    # Half the work is behind it and the sleeve was not in it: of a sure part the rest is sure.
    assert_allclose(means["sleeve"], 1, atol=1e-3)


def test_known_and_unbooked_sum_to_all():
    use = use_of(("em", "thorough", "coil", 3, 4))
    pipeline = jobs_of([("K1", "em", "thorough", 1, 0.0)], [("em", "thorough", 0.055)])
    means = [demand.predict(use, pipeline, 91, source).by_part["expected_pcs"].iloc[0]
             for source in ("known", "unbooked", "all")]
    assert_allclose(means[0] + means[1], means[2], rtol=1e-6)
    assert means[0] > 0 and means[1] > 0


def test_expect_gives_the_means_of_predict():
    use = use_of(("em", "thorough", "coil", 3, 4), ("em", "fix_only", "coil", 1, 3), ("ss", "thorough", "lamp", 5, 1))
    pipeline = jobs_of([("K1", "em", "thorough", 1, 0.0)],
                           [("em", "thorough", 0.055), ("em", "fix_only", 0.09), ("ss", "thorough", 0.011)])
    for source in ("all", "known", "unbooked"):
        fast, full = demand.expect(use, pipeline, 91, source), demand.predict(use, pipeline, 91, source).by_family
        assert fast[["family", "part"]].equals(full[["family", "part"]])
        assert_allclose(fast["expected_pcs"], full["expected_pcs"], rtol=1e-5, atol=1e-7)


def test_longer_windows_hold_more():
    use = use_of(("em", "thorough", "coil", 3, 4))
    means = [demand.predict(use, jobs_of((), [("em", "thorough", 0.055)]), days).by_part["expected_pcs"].iloc[0]
             for days in (7, 91, 365)]
    assert means[0] < means[1] < means[2]
    assert_allclose(means[2] / means[1], 365 / 91, rtol=1e-4)


def test_matrix_holds_every_part_padded():
    use = use_of(("em", "thorough", "coil", 3, 4), ("em", "thorough", "lamp", *SURE))
    predicted = demand.predict(use, jobs_of((), [("em", "thorough", 0.25)]), 91)
    matrix = predicted.matrix()
    assert matrix.shape == (2, max(pmf.size for pmf in predicted.part_pmfs))
    assert_allclose(matrix.sum(axis=1), 1, atol=1e-6)
    assert_allclose(matrix[1][: predicted.part_pmfs[1].size], predicted.pmf("lamp"))


def test_a_part_not_in_the_records_is_used_by_none():
    use = use_of(("em", "thorough", "coil", 3, 4))
    predicted = demand.predict(use, jobs_of((), NO_STREAM), 91)
    assert_array_equal(predicted.pmf("unheard-of"), [1.0])
    assert_array_equal(predicted.pmf("coil", "ss"), [1.0])


@pytest.mark.parametrize("use", [use_of(), use_of(("zz", "thorough", "coil", 3, 4))])
def test_nothing_to_say_is_said_with_empty_tables(use):
    predicted = demand.predict(use, jobs_of((), NO_STREAM), 91)
    assert predicted.by_family.empty and predicted.by_part.empty
    assert list(predicted.by_part.columns) == ["part", "expected_pcs", *demand.LEVELS, "jobs_seen"]
    assert predicted.matrix().shape == (0, 1)
    assert demand.expect(use, jobs_of((), NO_STREAM), 91).empty


def test_jobs_without_a_stream_predict_nothing():
    assert demand.predict(use_of(("em", "thorough", "coil", 3, 4)), jobs_of(), 91).by_part.empty


def test_bad_windows_are_refused():
    use, pipeline = use_of(("em", "thorough", "coil", 3, 4)), jobs_of((), NO_STREAM)
    with pytest.raises(InvalidParameter, match="days is 0"):
        demand.predict(use, pipeline, 0)
    with pytest.raises(InvalidParameter, match="source is 'enquiries'"):
        demand.expect(use, pipeline, 91, "enquiries")
