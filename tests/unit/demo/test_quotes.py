"""Quotes as sent: options side by side, the taken one marked, a second version from what was found."""

from collections import Counter, defaultdict

import pytest

from pipeline.demo import catalogue, floor, generate, jobs, money, quotes, use


@pytest.fixture(scope="module")
def rows(ran):
    return quotes.quote_rows(ran.seed, ran.world, ran.jobs)


@pytest.fixture(scope="module")
def by_job(ran):
    return {job.job: job for job in ran.jobs}


def test_only_recent_jobs_have_quote_lines(ran, rows, by_job):
    quoted = {row["job"] for row in rows}
    assert quoted == {job.job for job in ran.jobs if job.asked > ran.world.n_days - quotes.RECENT_DAYS}


def test_every_quote_offers_fixing_beside_thorough(rows, by_job):
    options = defaultdict(set)
    for row in rows:
        options[row["job"]].add(row["option"])
    for job, offered in options.items():
        assert {"fix_only", "thorough"} <= offered
        assert ("recommended" in offered) == (by_job[job].scope == "refresh")


def test_the_taken_option_is_the_jobs_scope(ran, rows, by_job):
    for row in rows:
        job = by_job[row["job"]]
        taken = job.accepted and job.answered < ran.world.n_days and row["option"] == quotes.OPTION[job.scope]
        assert (row["accepted_on"] != "") == taken


def test_an_option_adds_up_to_its_price(ran, rows, by_job):
    for job in list(by_job.values())[-40:]:
        lines = [
            r["amount"] for r in rows if (r["job"], r["version"], r["option"]) == (job.job, 1, "thorough")
        ]
        if lines:
            assert sum(lines) == pytest.approx(
                money.quote(ran.seed, ran.world, job, "thorough").amount, abs=0.02
            )


def test_the_jobs_quoted_amount_is_the_first_version_of_the_taken_option(clean):
    lines = defaultdict(float)
    for row in clean.tables["quote_lines"]:
        if row["version"] == 1 and row["accepted_on"] != "":
            lines[row["job"]] += row["amount"]
    quoted = {row["job"]: row["quoted_amount"] for row in clean.tables["jobs"]}
    assert len(lines) > 15
    for job, amount in lines.items():
        assert amount == pytest.approx(quoted[job], abs=0.02)


def test_a_second_version_names_parts_that_were_found(world):
    seed = generate.DEMO_SEED
    asked = jobs.arrivals(seed, world)
    floor.run(seed, world, asked, 180)
    by_job = {job.job: job for job in asked}
    second = [row for row in quotes.quote_rows(seed, world, asked) if row["version"] == 2]
    assert second
    for row in second:
        job = by_job[row["job"]]
        assert job.scope == "thorough" and job.teardown is not None
        if row["part"]:
            fit = use.fitted(seed, world, job.family)
            needs = {
                (str(fit.assembly[i]), catalogue.parts()[fit.part[i]].part): qty for i, qty, _ in job.needs
            }
            assert needs[row["assembly"], row["part"]] == row["qty_pcs"]


def test_no_line_stands_twice(rows):
    names = (
        "job",
        "version",
        "option",
        "kind",
        "assembly",
        "part",
        "qty_pcs",
        "hours",
        "amount",
        "tax_class",
    )
    keys = Counter(tuple(row[name] for name in names) for row in rows)
    assert max(keys.values()) == 1


def test_labour_has_hours_and_parts_have_pieces(rows):
    for row in rows:
        assert (row["hours"] is not None) == (row["kind"] == "labour")
        if row["part"]:
            assert row["kind"] == "part" and row["qty_pcs"] >= 1
        assert row["amount"] > 0
        assert row["tax_class"]
