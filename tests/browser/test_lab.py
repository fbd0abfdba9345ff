"""A notebook opened for use: it runs by itself, without its code, without the network, and lets itself be closed."""

import shutil
from pathlib import Path

import pytest

from pipeline.reports import lab
from pipeline.store import connect, read
from tests.support import browser_tabs


@pytest.fixture(scope="module")
def shop_file(tmp_path_factory, demo_shop):
    """A store of its own: the form writes to it."""
    return Path(shutil.copy(demo_shop.store, tmp_path_factory.mktemp("open") / "shop.duckdb"))


@pytest.fixture(scope="module")
def serving(shop_file):
    with lab.serve(shop_file, shop_file.parent, "record") as running:
        yield running


def ready(tab):
    tab.wait_for_selector(".widget-button")
    return tab


@pytest.fixture(scope="module")
def kept_open(browser, serving):
    """One tab for whoever leaves it as it was found: opening a notebook takes longer than looking at it."""
    tab = browser_tabs.new(browser)
    yield ready(browser_tabs.open_in_lab(tab, serving.url))
    tab.close()


@pytest.fixture
def page(opened_in_lab, serving):
    return ready(opened_in_lab(serving.url))


def test_it_opens_running_with_its_code_folded_away(kept_open):
    assert kept_open.locator(".jp-OutputArea-output >> text=open at the bench").count() == 1
    assert kept_open.locator(".jp-CodeCell .jp-Cell-inputWrapper:visible").count() == 0
    assert kept_open.locator("#shop-code").inner_text() == "Show the code"


def test_the_code_comes_back_on_demand(kept_open):
    kept_open.click("#shop-code")
    assert kept_open.locator(".jp-CodeCell .jp-Cell-inputWrapper:visible").count() > 3
    kept_open.click("#shop-code")
    assert kept_open.locator(".jp-CodeCell .jp-Cell-inputWrapper:visible").count() == 0


def test_nothing_leaves_this_machine(kept_open, serving):
    here = serving.url.split("/doc/")[0].removeprefix("http://")
    away = [url for url in kept_open.asked if here not in url and not url.startswith(("data:", "blob:"))]
    assert away == []


def test_the_form_writes_to_the_store_and_says_what_it_refuses(kept_open, shop_file):
    page = kept_open
    page.get_by_placeholder("job number").first.fill("W26-031")
    page.get_by_placeholder("part, or another spelling of it").first.fill("short sleeve")
    page.get_by_placeholder("whole number; negative = back to the shelf").fill("1,5")
    page.click("text=Record the taking")
    page.wait_for_selector("[role=status] >> text=Nothing was recorded")
    page.get_by_placeholder("whole number; negative = back to the shelf").fill("2")
    page.click("text=Record the taking")
    page.wait_for_selector("[role=status] >> text=2 pieces of")
    with connect.open_read(shop_file) as connection:
        rows = read.rows(connection, "select job, qty_pcs from job_parts where recorded_in = 'notebook'")
    assert rows == [("W26-031", 2)]


def closed(page):
    """Close as a person does, who has touched the page before, and return what was asked on the way."""
    with page.expect_event("close"):
        page.close(run_before_unload=True)
    return page.questions


def test_closing_never_asks_to_save(page):
    page.click("#shop-code")
    assert closed(page) == []


def test_an_edit_is_kept_by_itself(page, serving):
    page.click("#shop-code")
    cell = page.locator(".jp-CodeCell .cm-content").last
    for _ in range(10):  # on a busy machine the page may take the focus back while it still draws
        cell.click()
        page.keyboard.type("# seen to")
        if "# seen to" in cell.inner_text():
            break
        page.wait_for_timeout(1000)
    kept = serving.folder / "record.ipynb"
    waits = iter(range(600))
    while "# seen to" not in kept.read_text(encoding="utf-8"):
        assert next(waits, None) is not None, "an edit was not saved within two minutes"
        page.wait_for_timeout(200)
    # The file has it a moment before the page knows. (The cell itself stays marked until it is run again.)
    page.wait_for_function("!document.querySelector('.lm-TabBar-tab.jp-mod-dirty')")
    assert page.locator(".jp-Dialog").count() == 0
    assert closed(page) == []


@pytest.mark.slow  # test_same_picture opens the same notebook and asks for the same charts, and more
def test_charts_are_drawn_by_the_lab_itself(opened_in_lab, serving):
    tab = opened_in_lab(serving.url.replace("record.ipynb", "health.ipynb"))
    tab.wait_for_selector(".jp-OutputArea-output svg.marks")
    assert tab.locator(".jp-OutputArea-output svg.marks").count() == 2
