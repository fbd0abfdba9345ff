"""Every chart: its rows in the order they came, its axes with units, something drawn."""

import datetime
import json
import re

import pandas as pd
import pytest

from pipeline.reports import chart_rendering, theme
from pipeline.reports.charts import axes, consumption, earnings, health, scope, shelf, trust, use_change
from tests.support.consumption_frames import LOOKS, REASONS, bands, errors, uses

WINDOW = "the next 91 days"


@pytest.fixture(autouse=True)
def our_look():
    chart_rendering.enable()


def medians(frames):
    found = frames["job_margins"].groupby("family_name", as_index=False)["margin_per_hour"].median()
    found = found.rename(columns={"margin_per_hour": "median_per_hour"})
    return found.sort_values("median_per_hour", ascending=False)


def totals(frames):
    amounts = [column for column in frames["job_margins"] if column.endswith("_amount")]
    return frames["job_margins"].groupby("scope_name", as_index=False)[amounts].mean()


def months(_frames):
    return pd.DataFrame(
        {
            "month_on": pd.to_datetime(["2030-11-01", "2030-12-01", "2030-12-01"]),
            "record": ["parts recorded", "no parts recorded", "really used none"],
            "jobs": [5, 2, 1],
        }
    )


CHARTS = {
    "jobs_to_come": (lambda f: consumption.jobs_to_come(f["coming_jobs"], WINDOW), "jobs"),
    "use_by_reason": (lambda f: consumption.use_by_reason(uses(), REASONS), "uses"),
    "change_by_family": (
        lambda f: use_change.change_by_family(
            f["use_change"].assign(change_amount=[200.0, -180.0]), LOOKS, "EUR", 91
        ),
        "EUR",
    ),
    "error_by_family": (lambda f: trust.error_by_family(errors(), "tsb", "EUR", 91), "EUR"),
    "where_it_fell": (lambda f: trust.where_it_fell([0.05, 0.5, 0.55, 0.95, 1.0], 91), "share"),
    "inside_bands": (lambda f: trust.inside_bands(bands([0.4, 0.7], [0.6, 0.9]), 91), "share"),
    "inside_bands_of_few_windows": (
        lambda f: trust.inside_bands(bands([None] * 2, [None] * 2).astype({"low_share": float}), 365),
        "share",
    ),
    "use_by_family": (lambda f: consumption.use_by_family(f["forecast_families"], "EUR", WINDOW), "EUR"),
    "use_by_part": (
        lambda f: consumption.use_by_part(f["forecast_parts"], WINDOW, "all families together"),
        "pieces",
    ),
    "use_map": (lambda f: consumption.use_map(f["forecast"], WINDOW), None),
    "stock_against_reorder_point": (
        lambda f: shelf.stock_against_reorder_point(f["order_plan"]),
        "share of the most that booked work and the shelf ask for",
    ),
    "baskets_by_vendor": (lambda f: shelf.baskets_by_vendor(f["baskets"], "EUR"), "EUR"),
    "ready_shares": (lambda f: shelf.ready_shares(f["job_ready"]), "chance"),
    "ready_curve": (lambda f: shelf.ready_curve(f["ready_curve"], "EUR"), "EUR"),
    "waiting_jobs": (lambda f: shelf.waiting_jobs(f["bay_calendar"], datetime.date(2031, 2, 1)), None),
    "lead_times": (lambda f: shelf.lead_times(f["lead_times"]), "days"),
    "costs_side_by_side": (lambda f: scope.costs_side_by_side(f["scope_options"], "EUR"), "EUR"),
    "break_even_lines": (lambda f: scope.break_even_lines(f["scope_lines"]), "failures per machine"),
    "hours_outlook": (lambda f: scope.hours_outlook(f["job_hours_outlook"]), "hours"),
    "margin_per_hour": (lambda f: earnings.margin_per_hour(f["job_margins"], medians(f), "EUR"), "EUR"),
    "where_money_went": (lambda f: earnings.where_money_went(totals(f), "EUR"), "EUR"),
    "largest_variances": (lambda f: earnings.largest_variances(f["variances"], "EUR"), "EUR"),
    "jobs_recorded": (lambda f: health.jobs_recorded(months(f)), "jobs"),
}


@pytest.fixture(params=CHARTS)
def drawn(request, frames):
    make, unit = CHARTS[request.param]
    spec = make(frames).to_dict()
    return spec, unit, chart_rendering.still(spec)


def marks_in(picture):
    kinds = "bar|point|tick|rule|rect mark|text mark|circle|rule mark"
    return len(re.findall(f'aria-roledescription="(?:{kinds})"', picture))


def every(spec, key):
    """All values under a key, wherever in the specification."""
    if isinstance(spec, dict):
        found = [spec[key]] if key in spec else []
        return found + [one for name, value in spec.items() if name != "datasets" for one in every(value, key)]
    return [one for value in spec for one in every(value, key)] if isinstance(spec, list) else []


def test_chart_has_a_title_and_draws_marks(drawn):
    spec, _, picture = drawn
    assert chart_rendering.title_of(spec) != "untitled"
    assert picture.startswith("<svg") and 'class="marks"' in picture
    assert marks_in(picture) >= 2


def test_axes_say_their_unit(drawn):
    spec, unit, _ = drawn
    titles = [
        title
        for encoding in every(spec, "encoding")
        for channel in ("x", "y")
        for title in [encoding.get(channel, {}).get("title")]
        if title
    ]
    assert unit is None or any(unit in title for title in titles)


def test_text_fits_the_picture(drawn):
    _, _, picture = drawn
    width = float(re.search(r'width="(\d+)"', picture)[1])
    assert width < 1000, "wider than a page"


def test_a_spec_is_plain_json(drawn):
    spec, _, _ = drawn
    assert "NaN" not in json.dumps(spec)


def test_specs_carry_no_address_but_the_schema(drawn):
    spec, _, _ = drawn
    addresses = re.findall(r"https?://[^\"]+", json.dumps(spec))
    assert all("/schema/vega-lite/" in address for address in addresses)


def test_rows_keep_their_order_in_a_layered_chart(frames):
    backwards = frames["order_plan"].iloc[::-1]
    picture = chart_rendering.still(shelf.stock_against_reorder_point(backwards).to_dict())
    shown = re.findall(r">(\w{3}-\d\d) thing</text>", picture)
    assert shown == backwards["part"].tolist()


@pytest.mark.parametrize(
    "name", ["use_by_part", "use_by_family", "ready_shares", "break_even_lines", "margin_per_hour"]
)
def test_every_layer_states_the_same_order(name, frames):
    spec = CHARTS[name][0](frames).to_dict()
    domains = [encoding["y"]["scale"]["domain"] for encoding in every(spec, "encoding") if "y" in encoding]
    assert len(domains) >= 2 and all(domain == domains[0] for domain in domains)


def test_names_come_once_in_order_of_appearance():
    assert axes.names(pd.DataFrame({"part": ["b", "a", "b", "c"]}), "part") == ["b", "a", "c"]


def test_stock_is_drawn_as_shares_of_the_aim(frames):
    # By hand, SLV-01: 3 on the shelf + 10 on order of the 8 kept for jobs and 30 more; 20 to order reach 33 of 38.
    shares = shelf._shares_of_the_aim(frames["order_plan"]).query("part_name == 'SLV-01 thing'")
    assert shares["pcs"].tolist() == [13, 20]
    assert shares["from_share"].tolist() == [0, pytest.approx(13 / 38)]
    assert shares["to_share"].tolist() == [pytest.approx(13 / 38), pytest.approx(33 / 38)]


def test_nothing_there_draws_only_what_is_to_order(frames):
    shares = shelf._shares_of_the_aim(frames["order_plan"]).query("part_name == 'OPT-07 thing'")
    assert shares["where"].tolist() == ["to order today"]
    assert shares["to_share"].tolist() == [0.8]  # 4 of the 1 kept for a job and 4 more


def test_a_job_whose_part_has_no_day_says_so(frames):
    words = json.dumps(shelf.waiting_jobs(frames["bay_calendar"], datetime.date(2031, 2, 1)).to_dict())
    assert "COI-02, day unknown" in words and '"OPT-07"' in words


def test_an_unknown_stock_draws_no_bar(frames):
    shares = shelf._shares_of_the_aim(frames["order_plan"])
    assert not (shares["part_name"] == "RNG-30 thing").any()


def test_basket_bars_add_up_to_the_total(frames):
    spec = shelf.baskets_by_vendor(frames["baskets"], "EUR").to_dict()
    rows = next(iter(spec["datasets"].values()))
    north = sum(row["amount"] for row in rows if row["vendor"] == "north")
    assert north == pytest.approx(frames["baskets"]["total_amount"][0])


def test_counts_of_one_and_two_are_labelled_once(frames):
    picture = chart_rendering.still(health.jobs_recorded(months(frames).assign(jobs=1)).to_dict())
    assert re.findall(r">(\d)</text>", picture) == ["0", "1", "2"]


def test_a_loss_is_drawn_left_of_nothing(frames):
    losing = totals(frames).assign(margin_amount=-500.0)
    spec = earnings.where_money_went(losing, "EUR").to_dict()
    rows = next(iter(spec["datasets"].values()))
    assert min(row["amount"] for row in rows) == -500


def test_a_line_pays_from_its_break_even_on(frames):
    lines = frames["scope_lines"].assign(
        failures_avoided=[0.2, 0.2, 0.2], break_even_failures=[0.2, 0.19, 0.21]
    )
    rows = next(iter(scope.break_even_lines(lines).to_dict()["datasets"].values()))
    assert [row["pays"] for row in rows] == ["pays to replace now", "pays to replace now", "does not pay yet"]


def test_options_keep_their_colours_whatever_the_order(frames):
    options = frames["scope_options"].iloc[::-1]
    scales = [
        encoding["color"]["scale"]
        for encoding in every(scope.costs_side_by_side(options, "EUR").to_dict(), "encoding")
        if "color" in encoding
    ]
    for scale in scales:
        assert (
            dict(zip(scale["domain"], scale["range"], strict=True))["Thorough"]
            == theme.OPTION_COLOURS["thorough"]
        )
