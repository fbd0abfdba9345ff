"""What must hold for any table, number, parameter and typed text that reaches a page."""

import html
import math
import re
from html.parser import HTMLParser

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.errors import InvalidParameter, UsageError
from pipeline.reports import formats, parameters, theme
from pipeline.reports.pages import security_policy
from pipeline.reports.tables import Table, table_html

COLUMNS = [
    "part",
    "order_pcs",
    "line_amount",
    "today_share",
    "mean_days",
    "why",
    "from_on",
    "description",
    "job",
]
WORDS = st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=30)
CELLS = st.one_of(
    st.none(), WORDS, st.integers(-(10**9), 10**9), st.floats(allow_infinity=False), st.booleans()
)


class Reader(HTMLParser):
    """Reads a page the way a browser does: open tags, cells with their text."""

    def __init__(self):
        super().__init__()
        self.open, self.cells, self.tags = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        if tag not in ("br", "meta", "img", "link"):
            self.open.append(tag)
        if tag in ("td", "th"):
            self.cells.append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if {"td", "th"} & set(self.open):
            self.cells[-1] += data


def read(text):
    reader = Reader()
    reader.feed(text)
    assert reader.open == []
    return reader


@st.composite
def frames(draw):
    columns = draw(st.lists(st.sampled_from(COLUMNS), min_size=1, max_size=5, unique=True))
    rows = draw(st.integers(0, 6))
    return pd.DataFrame({name: pd.Series([draw(CELLS) for _ in range(rows)], dtype=object) for name in columns})


@given(frames(), WORDS)
def test_a_table_is_well_formed_whatever_it_holds(frame, caption):
    reader = read(table_html(Table(frame, caption, "EUR")))
    assert len(reader.cells) == frame.size + len(frame.columns)
    assert set(reader.tags) <= {"div", "table", "caption", "thead", "tbody", "tr", "th", "td", "span", "p"}


@given(frames())
def test_typed_text_is_in_the_table_as_typed(frame):
    shown = [cell.strip() for cell in read(table_html(Table(frame, "x"))).cells]
    for column in frame:
        for value in frame[column]:
            if isinstance(value, str) and value and column not in formats.CODED:
                assert value.strip() in shown


@given(frames())
def test_a_dash_stands_exactly_where_nothing_is_known(frame):
    unknown = sum(formats.is_unknown(value) for column in frame for value in frame[column])
    dashes = table_html(Table(frame, "x")).count('<span class="spoken">unknown</span>')
    typed = sum(value == formats.UNKNOWN for column in frame for value in frame[column])
    assert dashes == unknown + typed


@given(st.integers(-(10**12), 10**12), st.sampled_from(["order_pcs", "lines", "jobs_seen", "rows_in"]))
def test_whole_numbers_read_back_exactly(value, column):
    assert int(formats.cell_text(value, column).replace(",", "")) == value


@given(st.floats(-1e9, 1e9), st.sampled_from(["line_amount", "unit_price", "margin_per_hour"]))
def test_money_reads_back_to_the_cent(value, column):
    assert float(formats.cell_text(value, column).replace(",", "")) == pytest.approx(value, abs=0.0051)


@given(st.floats(0, 1))
def test_shares_read_back_to_the_per_cent(value):
    assert float(formats.cell_text(value, "today_share").removesuffix(" %")) / 100 == pytest.approx(
        value, abs=0.0051
    )


@given(st.floats(1e-6, 0.0999))
def test_a_small_figure_is_never_shown_as_nothing(value):
    assert float(formats.cell_text(value, "failures_avoided")) == pytest.approx(value, rel=0.06)


@given(st.one_of(st.none(), st.just(math.nan), st.just(np.nan), st.just(pd.NaT), st.just("")))
def test_what_is_unknown_is_never_a_number(value):
    assert formats.cell_text(value, "order_pcs") == formats.UNKNOWN
    assert formats.money(value, "EUR") == "unknown"


@given(st.sampled_from(COLUMNS + ["hours", "quote_bias_low", "brought_forward_amount", "qty_pcs"]), WORDS)
def test_headings_never_show_an_underscore(column, currency):
    assert "_" not in formats.heading(column, "EUR")


NUMBER = parameters.Parameter("cash_limit_amount", "float", 0.0, "most cash")
WHOLE = parameters.Parameter("rows", "int", 20, "most rows")
CHOICE = parameters.Parameter("family", "str", "all", "family")
YES_NO = parameters.Parameter("is_short", "bool", False, "short")
SHELF = {one.name: one for one in (NUMBER, WHOLE, CHOICE, YES_NO)}


@given(st.dictionaries(st.one_of(st.sampled_from([*SHELF, "store"]), WORDS), CELLS, max_size=4))
def test_any_setting_is_taken_or_refused_in_words(settings):
    try:
        found = parameters.checked(settings, {"shelf": SHELF}, {"family": ["em", "dm"]})["shelf"]
    except (InvalidParameter, UsageError) as error:
        assert len(str(error)) > 15
    else:
        assert set(found) == set(settings) <= set(SHELF)
        kinds = {"float": float, "int": int, "str": str, "bool": bool}
        assert all(type(value) is kinds[SHELF[name].kind] for name, value in found.items())
        assert found.get("family", "em") in ("em", "dm", "all")
        assert math.isfinite(found.get("cash_limit_amount", 0.0)) and found.get("rows", 0) >= 0


@given(st.floats(0, 1e9), st.integers(0, 10**9))
def test_a_number_typed_is_the_number_taken(amount, rows):
    asked = {"cash_limit_amount": repr(amount), "rows": str(rows)}
    assert parameters.checked(asked, {"shelf": SHELF}, {})["shelf"] == {
        "cash_limit_amount": amount,
        "rows": rows,
    }


@given(WORDS, st.lists(WORDS, max_size=8))
def test_a_near_miss_is_one_of_the_known(value, known):
    assert parameters.near_miss(value, known) in [None, *known]


@given(st.lists(st.text("abcdefgh", min_size=4, max_size=9), min_size=1, max_size=6, unique=True), st.data())
def test_one_slip_of_the_finger_is_recognised(known, data):
    meant = data.draw(st.sampled_from(known))
    place = data.draw(st.integers(0, len(meant) - 1))
    assert parameters.near_miss(meant[:place] + meant[place + 1 :], [meant]) == meant


@given(st.text(max_size=200))
def test_a_policy_admits_exactly_the_script_it_was_made_for(script):
    policy = security_policy(script)
    assert ("script-src" in policy) == bool(script)
    assert "'unsafe-inline'" not in policy.partition("script-src")[2] and '"' not in policy


@given(st.floats(-1e8, 1e8), st.sampled_from(["USD", "EUR", ""]))
def test_money_in_a_sentence_is_near_the_amount(amount, currency):
    said = formats.money(amount, currency)
    number = float(re.sub(r"[^\d.-]", "", said.removeprefix(currency)))
    assert number == pytest.approx(amount, abs=0.51 if abs(amount) >= 100 else 0.0051)


@given(st.text("<>&\"'abc ", max_size=40))
def test_a_caption_is_words_only(caption):
    text = table_html(Table(pd.DataFrame({"part": ["A"]}), caption))
    assert html.unescape(re.search(r"<caption>(.*?)</caption>", text, re.DOTALL)[1]) == caption


def test_the_heat_darkens_steadily():
    light = [sum(int(colour[i : i + 2], 16) for i in (1, 3, 5)) for colour in theme.HEAT]
    assert light == sorted(light, reverse=True)
