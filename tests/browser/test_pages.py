"""Every page in a real browser: drawn, complete, silent towards the network, good on paper."""

import re

import pytest

from pipeline.reports import run
from tests.support import browser_tabs

LOCAL = ("file:", "data:", "blob:")
WITH_CHARTS = [name for name in run.ORDER if name not in ("today", "record")]


@pytest.fixture(scope="module")
def report(demo_report):
    return demo_report


@pytest.fixture
def opened(tab, report):
    def open_in_fresh_tab(name):
        return browser_tabs.open_page(tab, report.index if name == "index" else report.pages[name])

    return open_in_fresh_tab


@pytest.mark.parametrize("name", ["index", *run.ORDER])
def test_a_page_opens_without_complaint_or_request(looked_at, name):
    page = looked_at(name)
    assert [url for url in page.asked if not url.startswith(LOCAL)] == []
    assert page.complaints == []


@pytest.mark.parametrize("name", WITH_CHARTS)
def test_every_chart_is_drawn_and_its_still_put_away(looked_at, name):
    page = looked_at(name)
    charts = page.locator("figure.chart").count()
    assert charts >= 1
    assert page.locator("figure.chart .live svg.marks").count() == charts
    assert page.locator("figure.chart .still:visible").count() == 0


@pytest.mark.parametrize("name", run.ORDER)
def test_a_page_is_no_wider_than_its_window(looked_at, name):
    page = looked_at(name)
    assert page.evaluate("document.documentElement.scrollWidth") <= 1080


@pytest.mark.parametrize("name", WITH_CHARTS)
def test_no_label_is_cut_off(looked_at, name):
    cut = looked_at(name).evaluate("""() => [...document.querySelectorAll('.live svg.marks')].flatMap((svg) => {
        const box = svg.getBoundingClientRect();
        return [...svg.querySelectorAll('text')].filter((text) => {
            const it = text.getBoundingClientRect();
            return it.width && (it.left < box.left - 1 || it.right > box.right + 1 || it.bottom > box.bottom + 1);
        }).map((text) => text.textContent);
    })""")
    assert cut == []


@pytest.mark.parametrize("name", WITH_CHARTS)
def test_paper_gets_the_still_instead_of_the_live_chart(opened, name):
    page = opened(name)
    page.emulate_media(media="print")
    charts = page.locator("figure.chart").count()
    assert page.locator("figure.chart .still:visible").count() == charts
    assert page.locator("figure.chart .live:visible").count() == 0
    assert page.locator("nav:visible").count() == 0


@pytest.mark.parametrize("name", ["index", *run.ORDER])
def test_a_page_prints(opened, name):
    printed = opened(name).pdf()
    assert printed.startswith(b"%PDF-") and len(printed) > 5000


def test_long_tables_scroll_on_screen_and_run_on_paper(opened):
    page = opened("health")
    longest = page.locator(".shop-table").evaluate_all(
        "(all) => all.map((table) => [table.clientHeight, table.scrollHeight]).sort((a, b) => b[1] - a[1])[0]"
    )
    assert longest[0] < longest[1]
    page.emulate_media(media="print")
    heights = page.locator(".shop-table").evaluate_all(
        "(all) => all.map((table) => table.scrollHeight - table.clientHeight)"
    )
    assert max(heights) <= 1


def test_the_index_leads_to_every_page_and_back(opened, report):
    page = opened("index")
    links = page.locator("dl.answers a").evaluate_all("(all) => all.map((one) => one.getAttribute('href'))")
    assert links == [f"{name}.html" for name in run.ORDER]
    page.click(f"text={page.locator('dl.answers a').first.inner_text()}")
    page.wait_for_url(re.compile(r"today\.html$"))
    page.click("nav >> text=All pages")
    page.wait_for_url(re.compile(r"index\.html$"))


def test_a_page_reads_without_scripts(browser, report):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(report.pages["health"].as_uri())
    assert page.locator("figure.chart .still:visible").count() >= 1
    context.close()


def test_a_planted_request_would_be_seen(tab, tmp_path):
    (tmp_path / "planted.html").write_text('<img src="http://127.0.0.1:9/x.png">', encoding="utf-8")
    tab.goto((tmp_path / "planted.html").as_uri())
    assert any(not url.startswith(LOCAL) for url in tab.asked)


def test_the_policy_stops_what_slips_in(tab, report, tmp_path):
    body = report.pages["health"].read_text(encoding="utf-8")
    slipped = body.replace(
        "</main>", '<img src="http://127.0.0.1:9/x.png"><script>window.slipped = 1</script></main>'
    )
    (tmp_path / "slipped.html").write_text(slipped, encoding="utf-8")
    tab.goto((tmp_path / "slipped.html").as_uri())
    assert tab.evaluate("window.slipped") is None
    assert any("Content Security Policy" in complaint for complaint in tab.complaints)
