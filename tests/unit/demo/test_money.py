"""Quotes, hours, invoices and payments agree with each other and with the job."""

from collections import defaultdict
from datetime import date

import numpy as np
import pytest

from pipeline.demo import catalogue, money, vendors
from pipeline.demo.world import SCOPES


@pytest.fixture(scope="module")
def delivered(ran):
    return [job for job in ran.jobs if job.status == "delivered"]


def offered(ran, job):
    return money.quote(ran.seed, ran.world, job, job.scope)


@pytest.mark.parametrize(
    "on, rate",
    [
        (date(2022, 11, 1), 54.0),
        (date(2024, 1, 1), 57.0),
        (date(2025, 12, 31), 57.0),
        (date(2026, 5, 1), 60.0),
    ],
)
def test_the_rate_charged_rises_every_other_year(on, rate):
    assert money.labour_rate(on) == rate


@pytest.mark.parametrize("scope", SCOPES)
def test_stages_share_out_all_the_hours(scope):
    assert sum(share for _, share in money.STAGES[scope]) == pytest.approx(1.0)


def test_prices_of_the_past_are_lower(world):
    part = catalogue.part_index()["panel-dots"]
    now, then = (money.piece_price(world, part, day) for day in (world.n_days - 1, world.n_days - 1 - 731))
    assert now == pytest.approx(158.0)
    assert then == pytest.approx(158.0 / (1 + vendors.drift("display")) ** (731 / 365.25))


def test_a_quote_adds_up(ran):
    for job in ran.jobs[:80]:
        for scope in SCOPES:
            quote = money.quote(ran.seed, ran.world, job, scope)
            by_hand = quote.labour_amount + quote.parts_amount + quote.supplies_amount
            assert quote.amount == pytest.approx(
                by_hand + quote.reserve_amount + quote.sublet_amount, abs=0.01
            )
            assert quote.hours * 2 == round(quote.hours * 2)
            rate = money.labour_rate(ran.world.on(job.asked))
            assert quote.labour_amount == pytest.approx(quote.hours * rate)


def test_a_thorough_quote_is_the_dearest(ran):
    for job in ran.jobs[:80]:
        fix, refresh, thorough = (money.quote(ran.seed, ran.world, job, scope).amount for scope in SCOPES)
        assert fix < thorough and refresh < thorough


def test_a_quote_is_the_same_whenever_it_is_asked_for(ran):
    job = ran.jobs[10]
    assert offered(ran, job) == offered(ran, job)


def test_quoted_parts_sit_in_the_machine(ran):
    for job in ran.jobs[:60]:
        fits = {(fit.assembly, fit.part) for fit in catalogue.fittings(job.family)}
        for place, part, qty, amount in offered(ran, job).parts:
            assert (place, part) in fits
            assert qty >= 1 and amount > 0


def test_quoted_hours_are_a_little_short_on_average(ran, delivered):
    ratio = np.array([job.hours / offered(ran, job).hours for job in delivered])
    assert 0.95 < ratio.mean() < 1.25
    assert ratio.std() > 0.1


def test_logged_hours_are_the_worked_ones_to_the_quarter(ran, delivered):
    for job in delivered:
        rows = money.hour_rows(ran.seed, ran.world, job)
        assert sum(row["hours"] for row in rows) == pytest.approx(job.hours, abs=0.25)
        assert all(row["hours"] * 4 == round(row["hours"] * 4) and row["hours"] > 0 for row in rows)


def test_a_day_and_stage_is_logged_once(ran, delivered):
    for job in delivered:
        keys = [(row["worked_on"], row["stage"]) for row in money.hour_rows(ran.seed, ran.world, job)]
        assert len(keys) == len(set(keys))


def test_stages_come_in_the_order_of_the_work(ran, delivered):
    for job in delivered[:60]:
        order = [stage for stage, _ in money.STAGES[job.scope]]
        seen = [order.index(row["stage"]) for row in money.hour_rows(ran.seed, ran.world, job)]
        assert seen == sorted(seen)


def test_intake_and_paperwork_are_not_billed(ran, delivered):
    for job in delivered:
        for row in money.hour_rows(ran.seed, ran.world, job):
            if money.is_fixed_price(ran.seed, job):
                assert row["billed_hours"] is None
            else:
                assert row["billed_hours"] == (0 if row["stage"] in ("intake", "admin") else row["hours"])


def test_about_a_third_of_jobs_have_a_fixed_price(ran):
    share = np.mean([money.is_fixed_price(ran.seed, job) for job in ran.jobs])
    assert abs(share - 0.35) < 4 * np.sqrt(0.35 * 0.65 / len(ran.jobs))


def test_a_fixed_price_is_the_quote_and_what_was_agreed_beyond_it(ran, delivered):
    fixed = [job for job in delivered if money.is_fixed_price(ran.seed, job)]
    for job in fixed:
        agreed = sum(r["amount"] for r in money.approvals(ran.seed, ran.world, job) if r["answer"] == "yes")
        invoice = money.invoiced(ran.seed, ran.world, job, [], offered(ran, job))
        freight = money.freight_amount(ran.seed, job)
        assert invoice == pytest.approx(offered(ran, job).amount + agreed + freight, abs=0.01)


def test_an_estimate_is_never_passed_by_more_than_an_eighth(ran, delivered):
    for job in delivered:
        if not money.is_fixed_price(ran.seed, job):
            rows = money.hour_rows(ran.seed, ran.world, job)
            agreed = sum(
                r["amount"] for r in money.approvals(ran.seed, ran.world, job) if r["answer"] == "yes"
            )
            invoice = money.invoiced(ran.seed, ran.world, job, rows, offered(ran, job))
            ceiling = 1.125 * (offered(ran, job).amount + agreed) + money.freight_amount(ran.seed, job)
            assert 0 < invoice <= ceiling


def test_invoices_are_as_the_trade_has_them(clean):
    by_scope = defaultdict(list)
    for row in clean.tables["jobs"]:
        if row["invoiced_amount"] is not None:
            by_scope[row["scope"]].append(row["invoiced_amount"])
    assert 200 < np.mean(by_scope["fix_only"]) < 700
    assert 700 < np.mean(by_scope["refresh"]) < 1600
    assert 3000 < np.mean(by_scope["thorough"]) < 7000


def test_sublet_work_goes_out_before_it_comes_back(ran):
    seen = 0
    for job in ran.jobs:
        for row in money.cost_rows(ran.seed, ran.world, job, offered(ran, job)):
            assert row["amount"] > 0
            if row["kind"] == "sublet":
                seen += 1
                assert job.scope == "thorough"
                assert row["sent_on"] < row["due_on"]
                assert row["back_on"] == "" or row["sent_on"] < row["back_on"]
                assert row["back_on"] == row["paid_on"]
    assert seen > 5


def test_every_delivered_job_used_supplies(ran, delivered):
    for job in delivered:
        kinds = [row["kind"] for row in money.cost_rows(ran.seed, ran.world, job, offered(ran, job))]
        assert kinds.count("supplies") == 1
        assert ("freight" in kinds) == (money.freight_amount(ran.seed, job) > 0)


def test_deposit_and_balance_make_the_invoice(clean):
    invoice = {
        r["job"]: r["invoiced_amount"] for r in clean.tables["jobs"] if r["invoiced_amount"] is not None
    }
    paid, settled = defaultdict(float), set()
    for row in clean.tables["payments"]:
        paid[row["job"]] += row["amount"]
        if row["kind"] == "balance":
            settled.add(row["job"])
    assert len(settled) > 150
    for job in settled:
        assert paid[job] == pytest.approx(invoice[job], abs=0.005)


def test_a_cancelled_job_has_its_deposit_back(clean):
    refunds = {row["job"]: row["amount"] for row in clean.tables["payments"] if row["kind"] == "refund"}
    deposits = {row["job"]: row["amount"] for row in clean.tables["payments"] if row["kind"] == "deposit"}
    status = {row["job"]: row["status"] for row in clean.tables["jobs"]}
    assert refunds
    for job, amount in refunds.items():
        assert amount == -deposits[job]
        assert status[job] == "declined"


def test_nothing_is_asked_before_the_machine_is_open(ran):
    for job in ran.jobs:
        for row in money.approvals(ran.seed, ran.world, job):
            assert ran.world.on(job.teardown) <= row["asked_on"] <= row["answered_on"] <= ran.world.today
            assert row["answer"] in ("yes", "no")
