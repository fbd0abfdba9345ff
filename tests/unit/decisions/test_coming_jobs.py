"""Jobs to come by family: known and unbooked add up, ranges hold their means, the bench is told in words."""

import datetime
from types import SimpleNamespace

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose
from scipy.stats import nbinom

from pipeline.decisions import coming_jobs
from pipeline.models import job_pipeline
from tests.support import hand_shop

TODAY = datetime.date(2026, 1, 1)


def pipeline(extra=()):
    jobs = ["job family scope status booked_on started_on delivered_on",
            *(f"J{n} em thorough delivered 2025-{n + 1:02}-01 2025-{n + 1:02}-05 2025-{n + 1:02}-25" for n in range(9)),
            *(f"S{n} em fix_only delivered 2025-{n + 1:02}-01 2025-{n + 1:02}-05 2025-{n + 1:02}-07" for n in range(9)),
            *extra]
    taken = ["job part qty_pcs used_on", *(f"J{n} coil 1 2025-{n + 1:02}-10" for n in range(9))]
    with hand_shop.store(families="family name\nem Electromechanical", parts="part description\ncoil Coil",
                         jobs="\n".join(jobs), job_parts="\n".join(taken)) as connection:
        return job_pipeline.fit(connection, TODAY)


def test_scopes_add_up_to_the_family():
    fitted = pipeline(["B1 em thorough booked 2025-12-20 - -", "R1 em fix_only in_progress 2025-12-01 2025-12-30 -"])
    for days in (91, 365):
        (row,), by_scope = coming_jobs.by_family(fitted, days).to_dict("records"), fitted.expected_jobs(days)
        assert_allclose(row["expected_jobs"], by_scope["expected_jobs"].sum(), rtol=1e-6)
        assert_allclose(row["known_jobs"] + row["unbooked_jobs"], row["expected_jobs"])
        assert row["on_books_jobs"] == 2 and 0 < row["known_jobs"] <= 2
        assert row["low_jobs"] <= row["expected_jobs"] <= row["high_jobs"]
        # Narrower than the ends added up: both scopes rarely lie at the same end.
        assert row["high_jobs"] - row["low_jobs"] <= (by_scope["high_jobs"] - by_scope["low_jobs"]).sum()


def test_one_stream_alone_has_the_range_of_a_negative_binomial():
    # Mean 6, variance over mean 1.5: negative binomial of size 12, by scipy.
    streams = pd.DataFrame({"family": ["em"], "scope": ["thorough"], "unbooked_mean": 6.0, "unbooked_excess": 0.5})
    known = pd.DataFrame({"family": [], "scope": [], "stage": []})
    fitted = SimpleNamespace(known=known, known_share=lambda days: (np.zeros(0), np.zeros(0)),
                             unbooked=lambda days: streams)
    (row,) = coming_jobs.by_family(fitted, 91).to_dict("records")
    assert [row["low_jobs"], row["high_jobs"]] == nbinom.ppf([0.1, 0.9], 12, 12 / 18).tolist()
    assert row["on_books_jobs"] == row["known_jobs"] == 0


def test_the_bench_is_told_with_who_stands_before_it():
    said = coming_jobs.bench_words(pipeline(["B1 em thorough booked 2025-12-20 - -"]))
    assert said == ("No job was seen to wait for a place: the bench sets no limit here. On the books now: 0 running, 1 "
                    "booked and not begun, 0 asked for.")


def test_places_that_jobs_wait_for_are_named():
    work = SimpleNamespace(is_limited=True, places=(6, np.array([999, 3]), 2.0), scopes=["fix_only", "thorough"])
    said = coming_jobs.bench_words(SimpleNamespace(work=work, known=pd.DataFrame({"stage": ["running", "enquiry"]})))
    assert "room for 6 jobs in all, 3 thorough:" in said and "1 running, 0 booked and not begun, 1 asked for" in said
