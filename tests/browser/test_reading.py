"""Pages for every reader: by keyboard, by screen reader, on a small screen, with nothing out of sight."""

import pytest

from pipeline.reports import run, theme
from tests.support import browser_tabs

NAMES = ["index", *run.ORDER]


@pytest.fixture(scope="module")
def report(demo_report):
    return demo_report


@pytest.fixture
def opened(tab, report):
    def open_in_fresh_tab(name, width=1080):
        tab.set_viewport_size({"width": width, "height": 900})
        return browser_tabs.open_page(tab, report.index if name == "index" else report.pages[name])

    return open_in_fresh_tab


@pytest.mark.parametrize("name", NAMES)
def test_a_page_has_one_first_heading_and_skips_no_level(looked_at, name):
    levels = (
        looked_at(name).locator("h1, h2, h3, h4").evaluate_all("(all) => all.map((one) => Number(one.tagName[1]))")
    )
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:], strict=False))


@pytest.mark.parametrize("name", NAMES)
def test_a_page_says_its_language_and_its_title(looked_at, name):
    page = looked_at(name)
    assert page.get_attribute("html", "lang") == "en"
    assert len(page.title()) > 10


@pytest.mark.parametrize("name", run.ORDER)
def test_every_picture_has_words(looked_at, name):
    images = looked_at(name).locator("img").evaluate_all("(all) => all.map((one) => one.alt)")
    assert all(len(alt) > 12 for alt in images)


@pytest.mark.parametrize("name", run.ORDER)
def test_every_table_has_a_caption_and_headers_both_ways(looked_at, name):
    faults = (
        looked_at(name)
        .locator(".shop-table table")
        .evaluate_all("""(all) => all.filter((table) =>
        !table.caption || !table.caption.textContent.trim()
        || [...table.tHead.querySelectorAll('th')].some((th) => th.scope !== 'col' || !th.textContent.trim())
        || [...table.tBodies[0].rows].some((row) => row.cells[0].scope !== 'row')
        || [...table.tBodies[0].rows].some((row) => row.cells.length !== table.tHead.rows[0].cells.length)).length""")
    )
    assert faults == 0


@pytest.mark.parametrize("name", ["shelf", "health", "earnings"])
def test_a_table_is_reached_and_scrolled_by_keyboard(opened, name):
    page = opened(name)
    long = page.locator(".shop-table:not(.whole)").evaluate_all(
        "(all) => all.findIndex((one) => one.scrollHeight > one.clientHeight + 5)"
    )
    region = page.locator(".shop-table:not(.whole)").nth(long)
    region.focus()
    assert page.evaluate("document.activeElement.getAttribute('role')") == "region"
    page.keyboard.press("PageDown")
    page.wait_for_function("document.activeElement.scrollTop > 0")


def test_the_first_stop_of_the_keyboard_leads_past_the_links(opened):
    page = opened("shelf")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the answer"
    page.keyboard.press("Enter")
    assert page.evaluate("location.hash") == "#answer"


@pytest.mark.parametrize("name", NAMES)
def test_a_small_screen_scrolls_down_only(opened, name):
    page = opened(name, width=390)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("name", run.ORDER)
def test_the_answer_stands_on_the_first_screen(looked_at, name):
    place = looked_at(name).locator(".headline").bounding_box()
    assert place["y"] + place["height"] < 900


@pytest.mark.parametrize("name", run.ORDER)
def test_text_is_as_dark_as_the_theme_says(looked_at, name):
    colours = (
        looked_at(name)
        .locator("main p, main li, .shop-table td, .shop-table th")
        .evaluate_all("(all) => [...new Set(all.map((one) => getComputedStyle(one).color))]")
    )
    allowed = {rgb(theme.INK), rgb(theme.QUIET_INK)}
    assert set(colours) <= allowed


def rgb(colour):
    red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgb({red}, {green}, {blue})"


@pytest.mark.parametrize("name", ["shelf", "scope", "health"])
def test_the_headers_of_a_long_table_stay_in_sight(opened, name):
    page = opened(name)
    moved = page.locator(".shop-table:not(.whole)").evaluate_all("""(all) => all.filter((one) => {
        if (one.scrollHeight < one.clientHeight + 200) return false;
        one.scrollTop = one.scrollHeight / 2;
        const header = one.querySelector('thead th').getBoundingClientRect();
        return Math.abs(header.top - one.getBoundingClientRect().top) > 4;
    }).length""")
    assert moved == 0


def test_the_cautions_are_all_in_sight_without_scrolling_a_box(opened):
    page = opened("scope")
    sizes = page.locator(".shop-table.whole").evaluate_all(
        "(all) => all.map((one) => [one.scrollHeight - one.clientHeight, one.querySelectorAll('tbody tr').length])"
    )
    assert len(sizes) == 1 and sizes[0][0] <= 1 and sizes[0][1] >= 10


def test_pointing_at_a_bar_tells_its_figures(opened):
    page = opened("shelf")
    page.locator("figure.chart svg.marks path[aria-roledescription='bar']").first.hover()
    page.wait_for_selector("#vg-tooltip-element.visible")
    assert "vendor" in page.locator("#vg-tooltip-element").inner_text()


def test_the_menu_of_a_chart_saves_pictures_and_calls_no_web_site(opened):
    page = opened("shelf")
    page.locator("figure.chart summary").first.click()
    offered = page.locator("figure.chart .vega-actions").first.locator("a").all_inner_texts()
    assert offered == ["Save as SVG", "Save as PNG"]


def test_how_it_was_worked_out_unfolds(opened):
    page = opened("shelf")
    assert page.locator("footer pre:visible").count() == 0
    page.click("footer summary")
    assert "notebook.shelf(store, vendor, rows)" in page.locator("footer pre").inner_text()
