"""What a job takes follows the stated chances: averaged over roughness, companions counted."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.demo import catalogue, use
from pipeline.demo.world import FAMILIES, SCOPES, Work, World, stream

N = 4000


def draws(family, scope, world, n=N):
    """Pieces of n jobs, shape (n, n_fittings), their reasons and roughness."""
    fit = use.fitted(5, world, family)
    rng = stream(99, "job")
    roughness = [use.draw_roughness(rng, world.work) for _ in range(n)]
    both = [use.draw_needs(rng, fit, scope, z, world.work) for z in roughness]
    return np.array([qty for qty, _ in both]), np.array([why for _, why in both]), np.array(roughness)


@pytest.fixture(scope="module")
def drawn():
    return draws("dotmatrix", "thorough", World())


def part_totals(fit, pieces):
    return {part: pieces[:, fit.part == part].sum(axis=1) for part in dict.fromkeys(fit.part.tolist())}


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("law", ["normal", "two_kinds"])
def test_the_chance_of_use_averages_to_the_stated_share(family, law):
    world = World(work=Work(roughness_law=law))
    fit = use.fitted(5, world, family)
    nodes, weights = use.roughness_nodes(world.work)
    mean = (use.logistic(fit.intercept[..., None] + world.work.roughness_sd * nodes) * weights).sum(-1)
    assert_allclose(mean, fit.share, atol=1e-9)


@pytest.mark.parametrize("law", ["normal", "two_kinds"])
def test_roughness_has_mean_0_and_variance_1(law):
    nodes, weights = use.roughness_nodes(Work(roughness_law=law))
    assert_allclose([weights.sum(), weights @ nodes, weights @ nodes**2], [1, 0, 1], atol=1e-12)
    seen = np.array([use.draw_roughness(stream(1, "job", i), Work(roughness_law=law)) for i in range(4000)])
    # Standard error of the mean is 0.016; of the variance below 0.04 for both laws.
    assert abs(seen.mean()) < 0.06
    assert abs(seen.var() - 1) < 0.14


def test_the_average_over_roughness_agrees_with_a_fine_grid():
    # The trapezoid rule on a fine grid of the normal density, beside the 41 nodes used.
    grid = np.linspace(-9, 9, 20001)
    density = np.exp(-(grid**2) / 2) / np.sqrt(2 * np.pi)
    nodes, weights = use.roughness_nodes(Work())
    for intercept in (-5.0, -1.0, 2.5):
        fine = np.trapezoid(use.logistic(intercept + 0.7 * grid) * density, grid)
        assert_allclose((use.logistic(intercept + 0.7 * nodes) * weights).sum(), fine, rtol=1e-9)


def test_jobs_use_parts_as_often_as_the_truth_says(drawn, world):
    pieces, _, _ = drawn
    fit = use.fitted(5, world, "dotmatrix")
    truth = use.by_part(5, world, "dotmatrix", "thorough")
    for part, total in part_totals(fit, pieces).items():
        share = truth[part][0]
        error = np.sqrt(share * (1 - share) / len(pieces))
        assert abs((total > 0).mean() - share) < 4.5 * error + 1e-9, catalogue.parts()[part].part


def test_jobs_use_as_many_pieces_as_the_truth_says(drawn, world):
    pieces, _, _ = drawn
    fit = use.fitted(5, world, "dotmatrix")
    truth = use.by_part(5, world, "dotmatrix", "thorough")
    for part, total in part_totals(fit, pieces).items():
        error = total.std() / np.sqrt(len(total))
        assert abs(total.mean() - truth[part][4]) < 4.5 * error + 1e-9, catalogue.parts()[part].part


@pytest.mark.parametrize("scope, family", [("fix_only", "solidstate"), ("refresh", "electromech")])
def test_smaller_jobs_follow_the_truth_too(scope, family, world):
    pieces, _, _ = draws(family, scope, world, 2500)
    fit = use.fitted(5, world, family)
    truth = use.by_part(5, world, family, scope)
    for part, total in part_totals(fit, pieces).items():
        share, mean = truth[part][0], truth[part][4]
        assert abs((total > 0).mean() - share) < 4.5 * np.sqrt(share * (1 - share) / 2500) + 1e-9
        assert abs(total.mean() - mean) < 5 * max(total.std(), np.sqrt(mean)) / np.sqrt(2500) + 1e-9


def test_the_chance_at_a_given_roughness_is_the_conditional_one(world):
    fit = use.fitted(5, world, "modern")
    rng = stream(3, "job")
    pieces = np.array([use.draw_needs(rng, fit, "thorough", 1.0, world.work)[0] for _ in range(2500)])
    used, mean = use.expected(fit, "thorough", [1.0], world.work)
    error = np.sqrt(used[:, 0] * (1 - used[:, 0]) / 2500)
    assert (abs((pieces > 0).mean(0) - used[:, 0]) < 4.5 * error + 1e-9).all()
    assert (abs(pieces.mean(0) - mean[:, 0]) < 5 * pieces.std(0) / 50 + 1e-9 + 5 * error).all()


def test_rough_machines_take_more_of_everything(world):
    for scope in SCOPES:
        for numbers in use.by_part(5, world, "alphanumeric", scope).values():
            share, smooth, typical, rough, pieces = numbers
            assert smooth < typical < rough
            assert 0 < share < rough
            assert pieces >= share * (1 - 1e-12)


def test_without_roughness_all_jobs_are_alike():
    world = World(work=Work(roughness_sd=0.0))
    for share, smooth, typical, rough, _ in use.by_part(5, world, "modern", "refresh").values():
        assert_allclose([smooth, typical, rough], share, rtol=1e-9)


def test_parts_go_together_because_rough_jobs_take_more(drawn, world):
    pieces, _, roughness = drawn
    lines = (pieces > 0).sum(axis=1)
    shares, _ = use.expected(use.fitted(5, world, "dotmatrix"), "thorough", [0.0], world.work)
    alone = (shares * (1 - shares)).sum()  # variance of the count of lines were parts independent
    assert np.corrcoef(lines, roughness)[0, 1] > 0.8
    assert lines.var() > 2 * alone


def test_no_job_takes_more_of_a_fitting_than_the_machine_has(drawn, world):
    pieces, _, _ = drawn
    fit = use.fitted(5, world, "dotmatrix")
    assert (pieces <= fit.pieces).all()
    assert (pieces >= 0).all()


def test_every_taking_has_a_reason_and_nothing_else_has(drawn):
    pieces, reasons, _ = drawn
    assert ((reasons != "") == (pieces > 0)).all()
    assert set(np.unique(reasons)) <= {
        "",
        "policy",
        "failed",
        "companion",
        "broken_in_work",
        "upgrade",
        "no_cure",
    }


def test_a_new_coil_brings_as_many_sleeves(world):
    pieces, reasons, _ = draws("solidstate", "fix_only", world, 3000)
    fit = use.fitted(5, world, "solidstate")
    seen = 0
    for coil, sleeve, share in fit.rules:
        brought = reasons[:, sleeve] == "companion"
        assert (pieces[brought, sleeve] <= pieces[brought].max(axis=1)).all()
        if catalogue.parts()[fit.part[coil]].wear_class == "coil":
            alone = (pieces[:, coil] > 0) & ~np.isin(reasons[:, sleeve], ["failed", "policy"])
            seen += int(brought.sum())
            assert (
                abs(brought.sum() - share * alone.sum()) <= 5 * np.sqrt(alone.sum() * share * (1 - share)) + 1
            )
    assert seen > 50


def test_a_companion_rule_raises_the_expected_use_by_hand(world):
    fit = use.fitted(5, world, "electromech")
    trigger, added, share = fit.rules[0]
    bare = replace(fit, rules=())
    used, mean = use.expected(bare, "thorough", [0.0], world.work)
    more, mean_more = use.expected(replace(fit, rules=(fit.rules[0],)), "thorough", [0.0], world.work)
    extra = (1 - used[added, 0]) * used[trigger, 0] * share
    assert_allclose(more[added, 0], used[added, 0] + extra)
    assert_allclose(mean_more[added, 0], mean[added, 0] + extra * mean[trigger, 0] / used[trigger, 0])


def test_a_thorough_job_takes_about_a_dozen_sleeves_and_few_coils(world):
    # Common practice, no source: sleeves by the dozen, coils hardly ever.
    for family in FAMILIES:
        numbers = use.by_part(5, world, family, "thorough")
        of = {name: 0.0 for name in ("sleeve", "coil")}
        for part, (*_, pieces) in numbers.items():
            if catalogue.parts()[part].wear_class in of:
                of[catalogue.parts()[part].wear_class] += pieces
        assert 8 < of["sleeve"] < 24
        assert 0 < of["coil"] < 2


@pytest.mark.parametrize("family", FAMILIES)
def test_a_thorough_job_costs_a_few_hundred_in_parts_and_a_fix_a_few_tens(family, world):
    spent = {}
    for scope in SCOPES:
        numbers = use.by_part(5, world, family, scope)
        spent[scope] = sum(catalogue.parts()[part].price * n[4] for part, n in numbers.items())
    assert 200 < spent["thorough"] < 800
    assert 60 < spent["refresh"] < 300
    assert 8 < spent["fix_only"] < 80


def test_families_differ_in_how_often_a_part_goes(world):
    shares = [
        use.by_part(5, world, family, "thorough")[catalogue.part_index()["bushing-flip"]][0]
        for family in FAMILIES
    ]
    assert len(set(shares)) == len(FAMILIES)
