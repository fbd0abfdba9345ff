import datetime
import decimal

import altair as alt
import pandas as pd
import pytest

from pipeline.reports import chart_rendering, theme


@pytest.fixture
def chart():
    chart_rendering.enable()
    frame = pd.DataFrame({"part": ["A", "B"], "pcs": [1, 2]})
    return alt.Chart(frame, title="Stock").mark_bar().encode(x="pcs:Q", y="part:N")


def test_a_chart_shows_through_the_media_type_that_jupyterlab_draws(chart):
    content, metadata = chart._repr_mimebundle_()
    assert content["application/vnd.vegalite.v5+json"]["$schema"].endswith("/v5.json")
    assert content["text/plain"] == "chart: Stock"
    assert metadata[chart_rendering.MEDIA_TYPE]["embed_options"]["actions"]["editor"] is False


def test_a_chart_wears_our_colours(chart):
    content, _ = chart._repr_mimebundle_()
    assert content[chart_rendering.MEDIA_TYPE]["config"]["range"]["category"] == list(theme.SERIES)


def test_a_still_is_an_svg_in_our_ink(chart):
    picture = chart_rendering.still(chart.to_dict())
    assert picture.startswith("<svg") and theme.INK in picture and theme.MAIN in picture


def test_a_picture_is_a_png(chart):
    assert chart_rendering.picture(chart.to_dict()).startswith(b"\x89PNG\r\n")


def test_thousands_of_rows_are_drawn():
    chart_rendering.enable()
    frame = pd.DataFrame({"x": range(6000)})
    spec = alt.Chart(frame).mark_point().encode(x="x:Q").to_dict()
    assert len(next(iter(spec["datasets"].values()))) == 6000


def test_exact_money_dates_and_the_unknown_become_json():
    frame = pd.DataFrame(
        {
            "amount": [decimal.Decimal("1.50"), None],
            "from_on": [datetime.date(2031, 3, 3), None],
            "pcs": pd.array([1, pd.NA], dtype="Int64"),
            "part": ["A", None],
        }
    )
    rows = chart_rendering.plain_values(frame)["values"]
    assert rows == [
        {"amount": 1.5, "from_on": "2031-03-03", "pcs": 1, "part": "A"},
        {"amount": None, "from_on": None, "pcs": None, "part": None},
    ]


@pytest.mark.parametrize(
    ("title", "words"),
    [
        ("Stock", "Stock"),
        ({"text": "Stock", "subtitle": "pieces"}, "Stock. pieces"),
        ({"text": ["A", "B"]}, "A B"),
        (None, "untitled"),
    ],
)
def test_titles_in_words(title, words):
    assert chart_rendering.title_of({"title": title}) == words


def test_the_drawing_script_is_whole_and_local():
    script = chart_rendering.drawing_script()
    assert "window.vegaEmbed" in script and len(script) > 500_000
    assert chart_rendering.drawing_script() is script
