"""Whole past jobs drawn again: parts stay together, few jobs stay doubtful."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.errors import InvalidParameter
from pipeline.models import whole_jobs
from tests.support import hand_shop

# Rough jobs take a coil and its sleeve, smooth ones neither; the Solid-state job takes a board besides.
SHOP = {
    "families": "family name\nem Electromechanical\nss Solid-state",
    "parts": "part description\ncoil Coil\nsleeve Sleeve\nboard Board",
    "jobs": "job family scope delivered_on no_parts_used\n"
            + "\n".join(f"E{n} em thorough 2025-01-0{n + 1} yes" for n in range(6))
            + "\nS0 ss thorough 2025-01-01 -\nS1 ss refresh 2025-01-01 -\nU1 em thorough 2025-01-01 -",
    "job_parts": "job part qty_pcs source\n"
                 + "\n".join(f"E{n} coil 2 -\nE{n} sleeve 3 -" for n in range(3))
                 + "\nS0 board 1 -\nS0 coil 4 customer\nS1 board 1 -",
}


@pytest.fixture
def past():
    with hand_shop.store(**SHOP) as connection:
        return whole_jobs.history(connection)


def test_history_is_known_jobs_by_parts(past):
    assert past.jobs["job"].tolist() == ["E0", "E1", "E2", "E3", "E4", "E5", "S0", "S1"]  # U1 is unknown
    assert past.parts.tolist() == ["board", "coil", "sleeve"]
    assert_array_equal(past.used_pcs[[0, 3, 6]], [[0, 2, 3], [0, 0, 0], [1, 4, 0]])
    assert_array_equal(past.own_pcs[6], [1, 0, 0])  # the customer brought the coils
    assert_array_equal(past.family_parts["em"], [False, True, True])


def test_weights_are_beliefs_about_own_jobs_and_a_little_of_others(past):
    weight, candidates = whole_jobs.draw_weights(past, "em", "thorough", 20_000, np.random.default_rng(1))
    assert past.jobs["job"].iloc[candidates].tolist() == ["E0", "E1", "E2", "E3", "E4", "E5", "S0"]
    assert_allclose(weight.sum(axis=1), 1)
    assert_allclose(weight.mean(axis=0), 1 / 7, atol=0.005)  # six own jobs and one job's worth of others
    # Bayesian bootstrap of 7: variance (1/7)(6/7)/8.
    assert_allclose(weight[:, 0].var(), 6 / 49 / 8, rtol=0.05)


def test_a_family_with_one_job_takes_half_its_word_from_others(past):
    weight, candidates = whole_jobs.draw_weights(past, "ss", "thorough", 20_000, np.random.default_rng(2))
    assert_allclose(weight[:, candidates == 6].mean(), 0.5, atol=0.01)


def test_jobs_come_whole(past):
    jobs = whole_jobs.draw_jobs(past, "em", "thorough", 300, 5, np.random.default_rng(3))
    assert jobs.shape == (300, 5, 3)
    coil, sleeve = jobs[..., 1].ravel(), jobs[..., 2].ravel()
    from_own = np.isin(coil, [0, 2])
    assert_array_equal(sleeve[from_own], coil[from_own] * 3 // 2)  # never a coil without its sleeves
    assert (jobs[..., 0] == 0).all()  # no board in a machine that has none, though S0 took one


def test_jobs_of_one_draw_share_its_belief(past):
    jobs = whole_jobs.draw_jobs(past, "em", "thorough", 4000, 8, np.random.default_rng(4))
    totals = (jobs[..., 1] == 2).sum(axis=1)
    assert totals.var() > 1.5 * 8 * 0.43 * 0.57  # wider than independent jobs would be


def test_draws_repeat_with_the_seed(past):
    first, second = (whole_jobs.draw_jobs(past, "em", "thorough", 10, 3, np.random.default_rng(5)) for _ in range(2))
    assert_array_equal(first, second)


def test_a_scope_nobody_ever_did_takes_what_the_familys_other_scopes_took(past):
    weight, candidates = whole_jobs.draw_weights(past, "em", "fix_only", 4000, np.random.default_rng(9))
    assert candidates.size == len(past.jobs)
    assert_allclose(weight[:, :6].sum(axis=1).mean(), 6 / 7, atol=0.01)


def test_without_any_history_nothing_is_drawn():
    with hand_shop.store(families=SHOP["families"]) as connection:
        past = whole_jobs.history(connection)
    rng = np.random.default_rng(9)
    with pytest.raises(InvalidParameter, match="no delivered job says what it used"):
        whole_jobs.draw_jobs(past, "em", "fix_only", 2, 2, rng)


def test_a_family_nothing_is_known_of_takes_what_others_took(past):
    jobs = whole_jobs.draw_jobs(past, "zz", "thorough", 400, 1, np.random.default_rng(10))[:, 0]
    assert {tuple(job) for job in jobs.tolist()} == {(0, 2, 3), (0, 0, 0), (1, 4, 0)}


def test_an_empty_store_has_an_empty_history():
    with hand_shop.store(families=SHOP["families"]) as connection:
        past = whole_jobs.history(connection)
    assert past.jobs.empty and past.parts.size == 0 and past.used_pcs.shape == (0, 0)
