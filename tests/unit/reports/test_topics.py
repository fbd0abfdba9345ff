"""Each page's frames: the answer, what is shown for which parameter, and words where there is nothing."""

import re

import altair as alt
import pandas as pd
import pytest

from pipeline.reports import notebook  # noqa: F401  (gives charts our look)
from pipeline.reports import shop as shops
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.bay import Bay
from pipeline.reports.topics.consumption import Consumption
from pipeline.reports.topics.earnings import Earnings
from pipeline.reports.topics.readiness import Readiness
from pipeline.reports.topics.scope import Scope
from pipeline.reports.topics.shelf import Shelf
from pipeline.reports.topics.today import Today
from tests.support.consumption_frames import forecast_of
from tests.support.scope_frames import scopes


@pytest.fixture
def shop(small_store):
    return shops.of(small_store)


@pytest.fixture
def table(frames):
    return lambda name: frames[name].copy()


def page(kind, shop, table, **parameters):
    if kind is Bay:
        parameters = {"rows": 30} | parameters
    if kind is Scope:
        parameters = {"made": scopes(table)} | parameters
    return kind(shop, (lambda _topic: forecast_of(table)) if kind is Consumption else table, **parameters)


@pytest.fixture
def nothing(frames):
    return lambda name: frames[name].iloc[:0]


def shown(topic):
    """Everything a page may show, by name."""
    kind = type(topic)
    names = [
        name for name in vars(kind) if not name.startswith("_") and not isinstance(vars(kind)[name], property)
    ]
    return {name: getattr(topic, name) for name in names}


@pytest.mark.parametrize("kind", [Consumption, Shelf, Readiness, Bay, Scope, Earnings])
def test_everything_is_a_table_a_chart_or_a_note(kind, shop, table):
    found = shown(page(kind, shop, table))
    assert len(found) >= (3 if kind is Bay else 5)
    assert all(
        isinstance(one, (Table, Note, alt.Chart, alt.LayerChart, alt.VConcatChart)) for one in found.values()
    )
    assert any(isinstance(one, Table) for one in found.values())


@pytest.mark.parametrize("kind", [Readiness, Bay])
def test_a_room_of_a_page_without_rows_is_notes(kind, shop, nothing):
    assert all(isinstance(one, Note) for one in shown(page(kind, shop, nothing)).values())


@pytest.mark.parametrize("kind", [Consumption, Shelf, Scope, Earnings])
def test_without_rows_everything_is_a_note_and_the_answer_says_so(kind, shop, nothing):
    topic = page(kind, shop, nothing)
    found = {name: one for name, one in shown(topic).items() if name != "cautions"}
    assert all(isinstance(one, Note) for one in found.values())
    assert len(topic.headline) > 20 and "nan" not in topic.headline


def test_a_note_names_the_files_that_would_unlock_it(shop, nothing):
    assert "offers.csv unlocks today's prices" in Shelf(shop, nothing).baskets.text
    assert "assembly_parts.csv unlocks" in page(Scope, shop, nothing).options_chart.text
    assert "job_hours.csv unlocks" in Earnings(shop, nothing).groups.text


class TestShelf:
    def test_the_answer_counts_lines_vendors_money_and_jobs(self, shop, table):
        said = Shelf(shop, table).headline
        assert said.startswith("Order 3 parts from 2 vendors today: USD 230, of which freight USD 9.50. ")
        # by hand: (3.2 x 0.31 + 1.5 x 0.5 + 9 x 0.9) / 13.7 = 0.718,
        # and (3.2 x 0.86 + 1.5 x 0.92 + 9 x 0.99) / 13.7 = 0.952
        assert said.endswith("Of 100 coming jobs 72 find every part on today's shelf, 95 once the plan stands.")

    def test_only_what_is_to_order_is_on_the_list_every_part_below(self, shop, table):
        topic = Shelf(shop, table)
        assert topic.orders.frame["part"].tolist() == ["COI-02", "SLV-01", "OPT-07"]
        assert len(topic.positions.frame) == 4

    def test_one_vendor(self, shop, table):
        topic = Shelf(shop, table, vendor="south")
        assert topic.orders.frame["part"].tolist() == ["OPT-07"]
        assert topic.baskets.frame["vendor"].tolist() == topic.lead_times.frame["vendor"].tolist() == ["south"]
        assert topic.headline.startswith("Order 1 part from 1 vendor today: USD 168")

    def test_a_part_without_a_vendor_is_counted(self, shop, frames):
        frames["order_plan"].loc[3, "order_pcs"] = 2
        said = Shelf(shop, lambda name: frames[name]).headline
        assert "1 part has no vendor on record." in said and "Order 4 parts from 2 vendors" in said

    def test_without_vendors_no_basket_is_made_up(self, shop, frames):
        frames["baskets"] = frames["baskets"].iloc[:0]
        frames["order_plan"][["vendor", "line_amount"]] = None
        said = Shelf(shop, lambda name: frames[name]).headline
        assert said.startswith(
            "3 parts are due, but from whom and at what price is unknown. Of 100 coming jobs"
        )

    def test_nothing_due_is_said(self, shop, frames):
        frames["order_plan"]["order_pcs"] = 0
        topic = Shelf(shop, lambda name: frames[name])
        assert topic.headline.startswith("Nothing needs ordering today. Of 100 coming jobs")
        assert isinstance(topic.orders, Note)

    def test_what_is_missing_is_named(self, shop, table):
        assert "counts.csv unlocks" in Shelf(shop, table).missing.text


class TestScope:
    def _page(self, shop, table, **parameters):
        return page(Scope, shop, table, **parameters)

    def test_the_answer_puts_both_purses_side_by_side(self, shop, table):
        assert self._page(shop, table, family="dm").headline == (
            "A typical dm machine: the recommended scope costs the shop USD 630 (fix-only USD 420, thorough USD 1,344) "
            "inside the warranty, the machine's owner USD 1,650 (fix-only USD 1,100, thorough USD 3,520) over five "
            "years; chance of a call-back 15.0 % (fix-only 34.0 %, thorough 11.0 %)."
        )

    def test_the_busiest_family_with_options_is_the_default(self, shop, table):
        assert self._page(shop, table).subject == "A typical dm machine"

    def test_a_job_is_its_own_subject(self, shop, frames):
        frames["scope_options"]["subject"] = frames["scope_lines"]["subject"] = "job:J-005"
        topic = self._page(shop, frames.get, job="J-005")
        assert topic.subject == "Job J-005" and len(topic.lines.frame) == 3
        assert topic.every_subject.frame["machine"].tolist() == ["job J-005"] * 3

    def test_one_option_alone_cannot_be_compared(self, shop, frames):
        frames["scope_options"] = frames["scope_options"].iloc[:1]
        assert "cannot be put side by side" in self._page(shop, frames.get).headline

    def test_without_later_costs_the_answer_speaks_of_now(self, shop, frames):
        costs = [name for name in frames["scope_options"] if "_cost_" in name]
        frames["scope_options"][[*costs, "callback_share"]] = None
        topic = self._page(shop, frames.get)
        assert "the work now would be priced at USD 3,100 thorough and USD 480 fix-only" in topic.headline
        assert (
            "unknown without assemblies.csv and family_assemblies.csv and assembly_parts.csv" in topic.headline
        )
        assert isinstance(topic.options_chart, Note) and isinstance(topic.options, Table)

    def test_the_lines_that_pay_most_come_first(self, shop, table):
        domain = self._page(shop, table).lines_chart.to_dict()["layer"][0]["encoding"]["y"]["scale"]["domain"]
        assert domain == ["SLV-01, up-kicker", "COI-02, trough", "OPT-07, display"]

    def test_opening_and_rare_parts_are_said_in_words(self, shop, frames):
        frames["scope_lines"].loc[1, ["part", "action"]] = [None, "open"]
        frames["scope_lines"].loc[2, ["part", "assembly"]] = None
        rows = self._page(shop, frames.get).lines.frame.set_index("part")
        assert rows.loc["opening it", "action"] == "open"
        assert rows.loc["rare parts together", "assembly"] == "no assembly"

    def test_lines_without_a_break_even_are_listed_but_not_drawn(self, shop, frames):
        frames["scope_lines"].loc[0, "break_even_failures"] = None
        topic = self._page(shop, frames.get)
        assert len(topic.lines.frame) == 3
        assert len(topic.lines_chart.to_dict()["layer"][0]["encoding"]["y"]["scale"]["domain"]) == 2


class TestEarnings:
    def test_the_answer_holds_median_interval_losses_and_extremes(self, shop, table, frames):
        margins = frames["job_margins"]
        said = Earnings(shop, table).headline
        median = margins["margin_per_hour"].median()
        assert said.startswith(f"The middle one of 24 jobs earned USD {median:.2f} per hour (")
        assert f"{(margins['margin_amount'] < 0).sum()} jobs lost money." in said
        by_family = margins.groupby("family")["margin_per_hour"].median().sort_values()
        assert re.search(
            rf"{by_family.index[-1]} \([^)]*\) earned most, {by_family.index[0]} \([^)]*\) least\.$", said
        )

    def test_groups_say_how_sure_they_are(self, shop, table):
        groups = Earnings(shop, table).groups.frame
        assert groups["jobs"].sum() == 24
        assert (groups["low_per_hour"] <= groups["median_per_hour"]).all()
        assert (groups["median_per_hour"] <= groups["high_per_hour"]).all()
        # two jobs: the interval from the one to the other holds the median half of the time
        assert groups.loc[groups["jobs"] == 2, "coverage_share"].eq(0.5).all()

    def test_one_family(self, shop, table):
        topic = Earnings(shop, table, family="em")
        assert topic.jobs.frame["family_name"].unique().tolist() == ["em"]
        assert set(topic.variances.frame["job"]) <= set(topic.jobs.frame["job"])
        assert "earned most" not in topic.headline

    def test_a_job_without_hours_is_listed_but_not_ranked(self, shop, frames):
        frames["job_margins"].loc[0, ["hours", "margin_per_hour"]] = None
        topic = Earnings(shop, lambda name: frames[name])
        assert len(topic.jobs.frame) == 24 and topic.groups.frame["jobs"].sum() == 23

    def test_variances_come_by_size_whatever_their_sign(self, shop, frames):
        frames["variances"] = frames["variances"].iloc[::-1]
        assert Earnings(shop, lambda name: frames[name]).variances.frame["variance_amount"].tolist() == [
            520.0,
            -60.0,
        ]

    def test_averages_add_up_to_what_was_invoiced(self, shop, table, frames):
        rows = next(iter(Earnings(shop, table).money_chart.to_dict()["datasets"].values()))
        scope = pd.DataFrame(rows).groupby("scope_name")["amount"].sum()
        invoiced = frames["job_margins"].groupby("scope_name")["invoiced_amount"].mean()
        assert scope["thorough"] == pytest.approx(invoiced["thorough"])


class TestToday:
    @pytest.fixture
    def attention(self):
        rows = [
            ("job waits for parts", "J-005", None, 40.0, "2 parts short: OPT-07, COI-02"),
            ("job waits for parts", "J-006", None, 3.0, "1 part short: SLV-01"),
            ("order due", "north", 61.5, None, "send 2 lines"),
            ("delivery late", "P-9 (south)", None, 12.4, "ask south about 4 pieces"),
            ("quote out of line", "south", None, 39.0, "slower than its quote"),
        ]
        frame = pd.DataFrame(rows, columns=["what", "where", "amount", "days", "what_to_do"])
        return frame.astype({"amount": float, "days": float}).assign(rank=range(1, 6))

    def test_the_answer_counts_by_kind_and_says_what_comes_first(self, shop, attention):
        assert Today(shop, attention).headline == (
            "On 2031-02-20: 2 jobs wait for parts, 1 order is due, 1 delivery is late, 1 vendor's quote is out of "
            "line. First: J-005, job waits for parts: 2 parts short: OPT-07, COI-02."
        )

    def test_the_list_keeps_its_order(self, shop, attention):
        table = Today(shop, attention).attention
        assert table.frame["rank"].tolist() == [1, 2, 3, 4, 5]
        assert (
            "at stake, USD" in table._repr_html_() and "means not measured this way" in table._repr_html_()
        )

    def test_only_what_is_past_its_day_is_drawn(self, shop, attention):
        spec = Today(shop, attention).days_chart.to_dict()
        rows = next(iter(spec["datasets"].values()))
        assert [row["where"] for row in rows] == ["J-005", "J-006", "P-9 (south)"]

    def test_a_quiet_day_is_said(self, shop, attention):
        quiet = Today(shop, attention.iloc[:0])
        assert quiet.headline == "On 2031-02-20 nothing waits that the records know of."
        assert isinstance(quiet.attention, Note) and isinstance(quiet.days_chart, Note)

    def test_an_unforeseen_kind_is_said_as_it_stands(self, shop, attention):
        attention.loc[0, "what"] = "deposit open"
        assert "1 deposit open" in Today(shop, attention).headline
