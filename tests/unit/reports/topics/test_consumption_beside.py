"""The further frames of the page on consumption: change, reasons, stand-ins, counter sales, trust."""

import datetime
from types import SimpleNamespace

import altair as alt
import numpy as np
import pandas as pd
import pytest

from pipeline.decisions import backtest
from pipeline.decisions.use_change import UseChange
from pipeline.kernels.job_factor import Loading
from pipeline.models.counter_sales import COLUMNS, CounterSales
from pipeline.reports import shop as shops
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.trust import Trust
from pipeline.reports.topics.use_beside import Beside
from pipeline.reports.topics.use_change import Change


@pytest.fixture
def shop(small_store):
    return shops.of(small_store)


def parts():
    return pd.DataFrame({"part": ["SLV-01", "COI-02", "OPT-07"], "to_on": None, "days": 91,
                         "before_pcs": [4.0, 20.0, 9.0], "expected_pcs": [10.0, 11.0, 9.5], "q10_pcs": [6, 8, 5],
                         "q90_pcs": [15, 14, 14], "change_amount": [5.1, -157.5, np.nan], "more_jobs_pcs": 1.0,
                         "more_thorough_pcs": 1.0, "more_each_pcs": 4.0})


class TestChange:
    def change(self, shop, frames, family="", notes=None, rows=25):
        return Change(shop, UseChange(frames["use_change"], parts(), notes or {}), family, 91, rows)

    def test_what_rises_comes_first_and_causes_add_up(self, shop, frames):
        frame = self.change(shop, frames).families.frame
        assert frame["change_amount"].tolist() == [200, -180]
        causes = frame[["more_jobs_amount", "more_thorough_amount", "more_each_amount"]].sum(axis=1)
        assert causes.tolist() == frame["change_amount"].tolist()

    def test_one_family(self, shop, frames):
        assert self.change(shop, frames, "em").families.frame["change_amount"].tolist() == [-180]

    def test_only_parts_outside_their_range_are_listed_the_dearest_change_first(self, shop, frames):
        # A year ago 20 of 8 to 14 now, and 4 of 6 to 15; 9 lies within 5 to 14.
        assert [one.split()[0] for one in self.change(shop, frames).parts.frame["part_name"]] == ["COI-02", "SLV-01"]
        assert len(self.change(shop, frames, rows=1).parts.frame) == 1

    def test_why_nothing_is_said_is_said(self, shop, frames):
        frames["use_change"] = frames["use_change"].iloc[:0]
        topic = self.change(shop, frames, notes={91: "Nothing to hold the next 91 days against."})
        assert topic.families.text == topic.chart.text == "Nothing to hold the next 91 days against."
        assert "Nothing to hold" in topic.method.text


def beside(sold, loading=None, stand_ins=()):
    reasons = pd.DataFrame({"family": ["em", "dm"], "failed_uses": [3, 5], "policy_uses": [1, 9],
                            "companion_uses": [0, 1], "other_uses": [0, 0], "unknown_reason_uses": [2, 0],
                            "callback_uses": [1, 0]})
    rules = pd.DataFrame(stand_ins, columns=["days", "part", "stands_in_for", "condition", "expected_pcs", "q90_pcs",
                                             "other_expected_pcs", "together_expected_pcs", "together_q90_pcs"])
    return SimpleNamespace(reasons=reasons, stand_ins=rules, counter={91: sold}, plays_note="Plays are left out.",
                           roughness=loading or Loading(0.0, 0.0, 0.0, np.zeros(41), 0))


def sold(*rows, together=()):
    return CounterSales(91, 48, "mean", pd.DataFrame(rows, columns=COLUMNS),
                        pd.DataFrame(together, columns=COLUMNS[1:]), np.zeros((len(rows), 1)))


FEW = ("SLV-01", *[np.nan] * 8, 48, 2, 3, "too few to say: 2 sales in 48 months; wanted 5")
MANY = ("COI-02", 4.0, 0, 1, 2, 4, 6, 8, 9, 48, 31, 40, "")


class TestBeside:
    def test_reasons_add_up_and_call_backs_stand_apart(self, shop):
        topic = Beside(shop, beside(sold()), "", 91)
        assert topic.reasons.frame["uses"].tolist() == [15, 6]
        assert isinstance(topic.reasons_chart, alt.Chart)
        legend = topic.reasons_chart.to_dict()["encoding"]["color"]["scale"]["domain"]
        assert len(legend) == 4  # nothing was an upgrade: no colour for it

    def test_nothing_sold_and_too_little_sold_are_words(self, shop):
        assert isinstance(Beside(shop, beside(sold()), "", 91).counter_total, Note)
        topic = Beside(shop, beside(sold(FEW, together=[FEW[1:]])), "", 91)
        assert "too few to say: 2 sales" in topic.counter_total.text and isinstance(topic.counter, Note)

    def test_parts_sold_often_are_listed_and_the_others_counted(self, shop):
        topic = Beside(shop, beside(sold(MANY, FEW, together=[MANY[1:]])), "", 91)
        assert topic.counter.frame["part"].tolist() == ["COI-02"]
        assert "about 4 pieces in the next 91 days, 8 times in 10 between 1 and 8" in topic.counter_total.text
        assert "Of 1 of 2 parts ever sold: too few to say." in topic.counter_total.text

    def test_roughness_in_words(self, shop):
        # A loading of 0.8 on the logit: 1 / (1 + exp(-0.8)) = 0.69.
        said = Beside(shop, beside(sold(), Loading(0.8, 0.7, 0.9, np.zeros(41), 60)), "", 91).roughness.text
        assert "uses 69 in 100" in said and "60 jobs asked" in said
        assert "no job to ask" in Beside(shop, beside(sold()), "", 91).roughness.text

    def test_a_rule_without_condition_holds_always_as_far_as_is_written(self, shop):
        rule = (91, "SLV-01", "COI-02", None, 1.0, 2, 3.0, 4.0, 6)
        html = Beside(shop, beside(sold(), stand_ins=[rule]), "", 91).stand_ins._repr_html_()
        assert "always, as far as is written" in html
        assert isinstance(Beside(shop, beside(sold()), "", 91).stand_ins, Note)


def judged(price=10.0, n_origins=3, months=3):
    names = {backtest.BY_JOBS: 1.0, backtest.DRAWN_AGAIN: 1.25, "tsb": 2.0, "mean": 3.0}
    rows = [{"origin_on": datetime.date(2030, 1, 1) + datetime.timedelta(days=91 * n), "horizon_months": months,
             "family": family, "part": "SLV-01", "shelf_rule": "by_the_job", "method": method, "used_pcs": n % 2,
             "usual_pcs": 2.0, "unit_price": price, "crps_pcs": crps, "transform_share": 0.5}
            for n in range(n_origins) for family in ("em", "dm") for method, crps in names.items()]
    return backtest.Backtest(pd.DataFrame(columns=backtest.COLUMNS), pd.DataFrame(rows), "As many as there are.")


class TestTrust:
    def test_the_answer_says_by_how_much_and_on_what(self, shop):
        said = Trust(shop, judged(), "", 91).answer.text
        assert "50 % below that of the best calendar method (tsb)" in said
        assert "20 % below that of whole past jobs drawn again" in said
        assert "2 series of family and part; 3 origins from 2030-01-01 to 2030-07-02" in said

    def test_worse_is_said_as_worse(self, shop):
        made = judged()
        made.scores.loc[made.scores["method"] == "tsb", "crps_pcs"] = 0.5
        assert "100 % above that of the best calendar method" in Trust(shop, made, "", 91).answer.text

    def test_the_table_goes_from_the_whole_to_family_and_rule(self, shop):
        frame = Trust(shop, judged(), "", 91).skill.frame
        assert frame[["family", "shelf_rule"]].values.tolist() == [
            ["all families", "all rules"], ["dm", "all rules"], ["dm", "by_the_job"], ["em", "all rules"],
            ["em", "by_the_job"]]
        assert frame["forecast_money"].tolist() == [20, 10, 10, 10, 10]

    def test_one_family_is_judged_alone(self, shop):
        assert "1 series of family and part" in Trust(shop, judged(), "em", 91).answer.text

    def test_without_prices_the_scaled_error_speaks(self, shop):
        topic = Trust(shop, judged(price=np.nan), "", 91)
        assert "(scaled;" in topic.answer.text and isinstance(topic.skill_chart, Note)
        assert isinstance(topic.skill, Table)

    def test_why_the_mean_absolute_error_is_not_used_is_told_with_a_figure(self, shop):
        said = Trust(shop, judged(n_origins=4), "", 91).method.text
        assert "a forecast of nothing at all wins it" in said and "50 of 100 series used nothing" in said

    def test_too_few_to_say_is_all_that_is_said(self, shop):
        silent = backtest.Backtest(pd.DataFrame(columns=backtest.COLUMNS), pd.DataFrame(), "Too few to say: 3 jobs.")
        topic = Trust(shop, silent, "", 91)
        assert {topic.answer.text, topic.skill.text, topic.skill_chart.text, topic.calibration_chart.text,
                topic.within_chart.text} == {"Too few to say: 3 jobs."}

    def test_a_window_that_never_passed_is_told_apart(self, shop):
        assert Trust(shop, judged(), "", 365).answer.text.startswith("Too few to say of windows of 365 days")
