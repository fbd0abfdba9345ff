import base64
import gzip
import hashlib
import re

import nbformat
import pandas as pd
import pytest

from pipeline.reports import chart_rendering, pages
from pipeline.reports.charts import shelf
from pipeline.reports.pages import Page
from pipeline.reports.tables import Table

V4 = nbformat.v4


def shown(**data):
    return V4.new_output("display_data", data=data)


@pytest.fixture
def notebook(frames):
    chart_rendering.enable()
    chart, _ = shelf.baskets_by_vendor(frames["baskets"], "EUR")._repr_mimebundle_()
    table = Table(frames["order_plan"], "Order today", "EUR")._repr_html_()
    code = [
        V4.new_code_cell(
            "print(answer)",
            metadata={"tags": ["nbval-check-output"]},
            outputs=[V4.new_output("stream", text="Order 3 parts <today>:\nEUR 230.\n")],
        ),
        V4.new_code_cell("chart", outputs=[V4.new_output("display_data", data=chart)]),
        V4.new_code_cell("table", outputs=[shown(**{"text/html": table, "text/plain": "x"})]),
        V4.new_code_cell(
            "form",
            outputs=[
                shown(**{"application/vnd.jupyter.widget-view+json": {"model_id": "1"}, "text/plain": "x"})
            ],
        ),
        V4.new_code_cell(
            "1/0",
            outputs=[
                V4.new_output(
                    "error", ename="StoreError", evalue="no store & no page", traceback=["Traceback"]
                ),
                V4.new_output("stream", name="stderr", text="a warning"),
            ],
        ),
    ]
    return V4.new_notebook(
        cells=[V4.new_markdown_cell("# What do we order today?\n\nFor whoever orders."), *code]
    )


@pytest.fixture
def written(notebook, tmp_path):
    page = pages.page_of("shelf", notebook)
    path = pages.write_page(
        page, notebook, tmp_path, [page, Page("today", "What now?", "")], [("rows", 20, "most rows")]
    )
    return path.read_text(encoding="utf-8")


def test_question_and_answer_come_from_the_notebook(notebook):
    assert pages.page_of("shelf", notebook) == Page(
        "shelf", "What do we order today?", "Order 3 parts <today>: EUR 230."
    )


def test_a_notebook_that_did_not_run_has_no_answer():
    assert pages.page_of("shelf", V4.new_notebook()) == Page("shelf", "shelf", "")


def test_the_page_is_whole(written):
    assert written.startswith("<!DOCTYPE html>") and written.rstrip().endswith("</html>")
    assert '<html lang="en">' in written and "<h1" in written
    assert '<p class="said headline">Order 3 parts &lt;today&gt;:<br>EUR 230.</p>' in written


def test_the_chart_is_there_twice_live_and_still(written):
    assert written.count('class="spec"') == 1 and written.count('class="still"') == 1
    still = base64.b64decode(re.search(r'src="data:image/svg\+xml;base64,([^"]+)"', written)[1]).decode()
    assert still.startswith("<svg") and "freight" in still
    assert 'alt="chart: What today' in written


def test_vega_is_there_once_and_compressed(written):
    packed = re.findall(r'id="engine">([^<]+)<', written)
    assert len(packed) == 1
    assert gzip.decompress(base64.b64decode(packed[0])).decode() == chart_rendering.drawing_script()


def test_the_policy_forbids_the_network_and_admits_one_script(written):
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', written)[1]
    assert policy.startswith("default-src 'none'") and "unsafe-inline'" not in policy.split("script-src")[1]
    script = re.findall(r"<script>(.*?)</script>", written, re.DOTALL)
    assert len(script) == 1
    digest = base64.b64encode(hashlib.sha256(script[0].encode()).digest()).decode()
    assert f"'sha256-{digest}'" in policy


def test_nothing_points_outside(written):
    without_data = re.sub(
        r'<script (?:type="application/json"|type="text/plain").*?</script>|data:[^"]+',
        "",
        written,
        flags=re.DOTALL,
    )
    assert not re.findall(r'(?:src|href)="(?:https?:)?//', without_data)
    assert "http:" not in without_data and "https:" not in without_data


def test_the_table_style_comes_once(written):
    assert written.count(".shop-table caption") == 1


def test_errors_are_sentences_without_traceback(written):
    assert "no store &amp; no page" in written and "Traceback" not in written and "a warning" not in written


def test_a_form_says_how_to_open_it(written):
    assert "python3 -m pipeline open shelf" in written


def test_links_name_every_page_and_mark_this_one(written):
    assert re.findall(r'href="(\w+\.html)"', written) == ["index.html", "shelf.html", "today.html"]
    assert written.count('aria-current="page"') == 1


def test_code_is_folded_away_at_the_foot(written):
    body, foot = written.split("<footer>")
    assert "print(answer)" not in body and "print(answer)" in foot
    assert "<code>rows = 20</code>: most rows" in foot


def test_a_page_without_charts_has_no_script(tmp_path):
    plain = V4.new_notebook(cells=[V4.new_markdown_cell("# Plain?")])
    text = pages.write_page(pages.page_of("health", plain), plain, tmp_path, []).read_text(encoding="utf-8")
    assert "<script" not in text and "unsafe-eval" not in text


def test_a_page_on_disk_is_read_back(written, tmp_path):
    assert pages.page_on_disk(tmp_path / "shelf.html") == Page(
        "shelf", "What do we order today?", "Order 3 parts <today>: EUR 230."
    )
    assert pages.page_on_disk(tmp_path / "never.html") is None


def test_the_front_page_has_one_line_per_page_and_the_tables(tmp_path):
    listed = [Page("shelf", "What do we order?", "3 parts & <more>"), Page("scope", "Thorough?", "")]
    path = pages.write_front(
        listed, ["order_plan.csv"], tmp_path, "The <Shop>", pd.Timestamp("2031-03-03").date()
    )
    text = path.read_text(encoding="utf-8")
    assert '<a href="shelf.html">What do we order?</a>' in text and "3 parts &amp; &lt;more&gt;" in text
    assert 'href="tables/order_plan.csv"' in text and "reports of 2031-03-03" in text
    assert "<script" not in text and "The &lt;Shop&gt;" in text
