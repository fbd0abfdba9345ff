"""Plays as a covariate: taken where they tell something, refused with the figure where not."""

import numpy as np
import pytest
from scipy.special import expit

from pipeline.models import plays, use_per_job
from tests.support import hand_shop

PARTS = [f"part{n}" for n in range(12)]


def shop(slope, n_jobs=40, quality="read"):
    rng = np.random.default_rng(6)
    counter = np.round(np.exp(rng.normal(9, 1, n_jobs))).astype(int)
    share = expit(np.linspace(-2, 1, 12) + slope * (np.log(counter) - 9)[:, None])
    used = rng.random(share.shape) < share
    jobs = [f"J{n} em thorough 2025-01-01 {count} {quality} yes" for n, count in enumerate(counter)]
    taken = [f"J{n} {PARTS[part]} 1" for n, part in np.argwhere(used)]
    return {"families": "family name\nem Electromechanical",
            "parts": "part description\n" + "\n".join(f"{part} P" for part in PARTS),
            "jobs": "job family scope delivered_on plays plays_quality no_parts_used\n" + "\n".join(jobs),
            "job_parts": "job part qty_pcs\n" + "\n".join(taken)}


def asked(tables):
    with hand_shop.store(**tables) as connection:
        return plays.fit(connection, use_per_job.fit(connection))


def test_plays_that_drive_use_are_taken():
    found = asked(shop(1.0))
    assert found.is_used and found.gain > found.gain_error > 0
    assert found.slopes["slope"].iloc[0] > 0.5
    assert found.note.startswith("Plays help") and "40 jobs" in found.note


def test_plays_that_tell_nothing_are_left_out_with_the_figure():
    found = asked(shop(0.0))
    assert not found.is_used and found.gain <= found.gain_error
    assert f"{found.gain:+.3f}" in found.note and "left out" in found.note


@pytest.mark.parametrize("tables", [shop(1.0, n_jobs=8), shop(1.0, quality="reset_suspected")])
def test_too_few_counters_that_were_read_is_no_answer(tables):
    found = asked(tables)
    assert not found.is_used and np.isnan(found.gain) and found.slopes.empty
    assert "wanted 20" in found.note
