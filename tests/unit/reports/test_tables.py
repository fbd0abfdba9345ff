import re

import numpy as np
import pandas as pd
import pytest

from pipeline.reports.tables import Note, Table, table_html


@pytest.fixture
def plan(frames):
    return table_html(Table(frames["order_plan"], "Order today", "EUR"))


def test_every_row_and_column_is_there(frames, plan):
    assert plan.count("<tr>") == len(frames["order_plan"]) + 1
    assert plan.count('scope="col"') == len(frames["order_plan"].columns)
    assert plan.count('scope="row"') == len(frames["order_plan"])


def test_money_carries_its_currency_in_the_heading(plan):
    assert "line, EUR" in plan and ">168.00</td>" in plan


def test_unknown_is_a_spoken_dash_and_explained(plan):
    assert plan.count('<span class="spoken">unknown</span>') == 6
    assert "— means unknown." in plan and "nan<" not in plan.lower()


def test_a_dash_may_mean_something_else():
    html = table_html(Table(pd.DataFrame({"days": [None]}), "x", dash="not counted in days"))
    assert "— means not counted in days." in html and '"spoken">not counted in days<' in html


def test_a_known_table_has_no_key():
    assert "means unknown" not in table_html(Table(pd.DataFrame({"part": ["A"], "order_pcs": [0]}), "x"))


def test_words_stand_left_and_numbers_right(plan):
    assert '<th scope="row" class="words">SLV-01</th>' in plan
    assert "<td>20</td>" in plan


def test_a_column_of_unknown_numbers_stands_right():
    html = table_html(Table(pd.DataFrame({"part": ["A"], "order_pcs": [None]}), "x"))
    assert '<td class="unknown">' in html


def test_a_notice_never_hides_behind_a_scroll_bar(frames):
    assert 'class="shop-table whole"' in table_html(Table(frames["baskets"], "x", is_whole=True))


def test_reasons_may_wrap(plan):
    assert '<td class="long">next run unknown</td>' in plan


@pytest.mark.parametrize("typed", ["<script>alert(1)</script>", '"><img src=x onerror=y>', "a & b"])
def test_typed_text_is_never_markup(typed):
    html = table_html(Table(pd.DataFrame({"part": [typed]}), typed, headings={"part": typed}))
    assert "<script>" not in html and "<img" not in html
    assert "&lt;" in html or "&amp;" in html


def test_the_region_scrolls_by_keyboard_and_is_named(plan):
    assert 'role="region" tabindex="0" aria-label="Order today"' in plan
    assert "<caption>Order today</caption>" in plan


def test_headings_may_be_said_otherwise():
    html = table_html(
        Table(pd.DataFrame({"q80_hours": [2.5]}), "x", headings={"q80_hours": "8 in 10 stay under, hours"})
    )
    assert "8 in 10 stay under, hours" in html


def test_an_empty_frame_still_has_its_header():
    html = table_html(Table(pd.DataFrame({"part": [], "order_pcs": []}), "none"))
    assert html.count("<tr>") == 1 and "order, pcs" in html


def test_missing_values_of_each_kind_are_dashes():
    frame = pd.DataFrame(
        {
            "part": [None, "B"],
            "from_on": [pd.NaT, pd.Timestamp("2031-01-02")],
            "order_pcs": pd.array([pd.NA, 3], dtype="Int64"),
            "unit_price": [np.nan, 2.5],
        }
    )
    html = table_html(Table(frame, "x"))
    assert len(re.findall("spoken", html)) == 4 and "2031-01-02" in html


def test_a_notebook_gets_the_style_with_the_table(frames):
    shown = Table(frames["baskets"], "Baskets", "EUR")._repr_html_()
    assert shown.startswith("<style>") and ".shop-table" in shown


def test_a_terminal_gets_text(frames):
    assert repr(Table(frames["baskets"], "Baskets")).startswith("Baskets\n")


def test_a_note_is_words_with_a_role():
    note = Note("offers.csv would unlock prices <today>")
    assert 'role="note"' in note._repr_html_() and "&lt;today&gt;" in note._repr_html_()
    assert repr(note) == "offers.csv would unlock prices <today>"
    assert "warning" in Note("x", is_warning=True)._repr_html_()
