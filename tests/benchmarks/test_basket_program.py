"""An order plan program of 5,000 parts and 20 vendors: processor seconds and the gap.

Run with `python3 -m pipeline test -m bench tests/benchmarks/test_basket_program.py -s`.
"""

import time

import numpy as np
import pytest

from pipeline.kernels import basket_program
from pipeline.kernels.basket_choices import Offers, Wants
from pipeline.kernels.basket_pruning import Vendors

PARTS, VENDORS = 5_000, 20
MOST_SECONDS = 30


def shop(is_due_share, threshold_amount, seed=20261129):
    """Parts of the trade's sizes and prices; half are offered by one vendor, the rest by two or three."""
    rng = np.random.default_rng(seed)
    n_offers = rng.choice([1, 2, 3], PARTS, p=[0.5, 0.35, 0.15])
    part = np.repeat(np.arange(PARTS), n_offers)
    vendor = np.concatenate([rng.choice(VENDORS, n, replace=False) for n in n_offers])
    piece = np.exp(rng.normal(1.3, 1.2, PARTS)).clip(0.05, 150)
    pack = rng.choice([1, 1, 1, 5, 10, 100], len(part)) * (piece[part] < 8) + (piece[part] >= 8)
    price = (piece[part] * pack * rng.uniform(0.85, 1.2, len(part))).round(2).clip(0.01)
    second = np.where(rng.random(len(part)) < 0.5, rng.choice([5.0, 10.0, 20.0], len(part)), np.inf)
    third = np.where(np.isfinite(second) & (rng.random(len(part)) < 0.4), 2.5 * second, np.inf)
    yearly = np.exp(rng.normal(1.5, 1.0, PARTS))
    wants = Wants(rng.geometric(0.12, PARTS), yearly, 0.2 * piece * rng.uniform(0.1, 0.8, PARTS),
                  yearly / 4, 0.1 * piece, rng.random(PARTS) < is_due_share)
    offers = Offers(
        part, vendor, pack.astype(int), np.column_stack([np.ones(len(part)), second, np.ceil(third)]),
        np.column_stack([price, 0.9 * price, 0.8 * price]), rng.choice([0.0, 0.0, 0.05], len(part)),
        rng.choice([0.0, 0.0, 4.0], len(part)), rng.choice([0.0, 0.0, 60.0, 140.0], len(part)) * wants.is_due[part])
    return wants, offers, Vendors(rng.choice([0.0, 25.0, 50.0], VENDORS), rng.uniform(8, 16, VENDORS).round(2),
                                  threshold_amount * rng.uniform(0.7, 1.4, VENDORS).round(2), np.full(VENDORS, 15.0))


@pytest.mark.bench
@pytest.mark.parametrize(("is_due_share", "threshold_amount"), [
    (1.0, 110.0), (0.3, 110.0), (0.02, 110.0), (0.02, 400.0), (0.3, 5_000.0), (1.0, 20_000.0)])
def test_an_order_plan_of_5000_parts_and_20_vendors(is_due_share, threshold_amount):
    # Thresholds of 110 are the trade's; the others lie about where today's orders end, so that they are all in doubt.
    started, wall = time.process_time(), time.monotonic()
    found = basket_program.solve(*shop(is_due_share, threshold_amount))
    seconds, wall = time.process_time() - started, time.monotonic() - wall
    print(f"\n{is_due_share:.0%} due, thresholds about {threshold_amount:.0f}: {seconds:.1f} s of processor, "
          f"{wall:.1f} s on the clock, {found.n_choices} choices, {found.amount:.2f}, at most "
          f"{found.gap_amount:.6f} above the least")
    assert seconds < MOST_SECONDS
    assert found.gap_amount <= 1e-6 * found.amount
