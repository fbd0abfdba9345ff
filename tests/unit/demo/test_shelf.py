"""The shelf is stocked by habit and never holds less than nothing."""

import numpy as np
import pytest

from pipeline.demo import catalogue, shelf, use
from pipeline.demo.world import FAMILIES, SCOPES, World, stream


@pytest.fixture
def opened(world):
    return shelf.open_shelf(5, world)


def index(part):
    return catalogue.part_index()[part]


def test_yearly_use_is_jobs_times_pieces(world):
    by_hand = sum(
        60
        * world.bookings.family_shares[f]
        * world.bookings.scope_shares[f][s]
        * use.by_part(5, world, family, scope)[index("ball")][4]
        for f, family in enumerate(FAMILIES)
        for s, scope in enumerate(SCOPES)
    )
    assert shelf.yearly_use(5, world)[index("ball")] == pytest.approx(by_hand)


def test_twice_the_jobs_use_twice_the_parts(world):
    np.testing.assert_allclose(shelf.yearly_use(5, World(jobs_per_year=120)), 2 * shelf.yearly_use(5, world))


def test_the_opening_is_recorded_piece_by_piece(opened):
    recorded = np.zeros(len(catalogue.parts()), int)
    for part, day, qty, kind, cost, *_ in opened.moves:
        assert (day, kind) == (0, "opening")
        assert qty > 0 and cost > 0
        recorded[part] += qty
    np.testing.assert_array_equal(recorded, opened.at_hand)


def test_dear_parts_and_those_never_kept_are_left_to_the_job(opened):
    for name in ("board-drive", "rail-side", "panel-dots", "plastics-old"):
        assert opened.high[index(name)] == 0
        assert opened.low[index(name)] == -1


def test_what_goes_often_is_kept(opened, world):
    yearly = shelf.yearly_use(5, world)
    often = [i for i, part in enumerate(catalogue.parts()) if yearly[i] > 60 and part.price < 5]
    assert len(often) > 10
    assert all(opened.high[i] > opened.low[i] >= 0 for i in often)


def test_some_parts_lie_about_in_numbers_nobody_needs(opened):
    assert (opened.at_hand > np.maximum(opened.high, 1)).sum() >= 5


def test_free_pieces_are_those_no_job_has_set_by(opened):
    part = int(np.argmax(opened.at_hand))
    opened.set_by[part] = 3
    assert opened.free(part) == opened.at_hand[part] - 3


def test_a_move_changes_the_shelf_and_is_remembered(opened):
    part, before = index("ball"), int(opened.at_hand[index("ball")])
    opened.move(part, 9, 4, "found", note="behind the drawer")
    assert opened.at_hand[part] == before + 4
    assert opened.moves[-1] == (part, 9, 4, "found", None, None, "", "", "behind the drawer")


def test_odd_moves_never_take_what_is_set_by(opened, world):
    opened.set_by[:] = opened.at_hand
    rng = stream(1, "floor")
    for day in range(900):
        shelf.odd_moves(rng, opened, day, world)
    assert any(move[2] < 0 for move in opened.moves)  # what was stripped or found in the meantime may go
    assert (opened.at_hand >= opened.set_by).all()


def test_odd_moves_come_at_the_stated_rate(opened, world):
    rng = stream(2, "floor")
    opened.at_hand[:] = 10_000
    n_before, years = len(opened.moves), 40
    for day in range(int(years * 365.25)):
        shelf.odd_moves(rng, opened, day, world)
    kinds = [move[3] for move in opened.moves[n_before:]]
    for kind, a_year in (("sold", 9), ("written_off", 4), ("found", 2)):
        assert abs(kinds.count(kind) / years - a_year) < 4 * np.sqrt(a_year / years)


def test_a_donor_gives_graded_parts_of_one_old_machine(opened):
    n_before = len(opened.moves)
    shelf.strip_donor(stream(3, "floor"), opened, 50)
    got = opened.moves[n_before:]
    assert 3 <= len(got) <= 6
    names = {catalogue.parts()[move[0]].part for move in got}
    assert any(names <= {fit.part for fit in catalogue.fittings(family)} for family in FAMILIES[:4])
    for part, day, qty, kind, cost, amount, grade, owner, _ in got:
        assert (day, kind, owner, amount) == (50, "harvested", "shop", None)
        assert grade in ("tested", "cleaned", "unknown")
        assert qty in (1, 2)
        assert cost < catalogue.parts()[part].price
