"""A Chromium that is on this machine; without one the tests say how to get it."""

import os
import shutil

import pytest

from tests.support import browser_tabs

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
QUIET = ["--disable-background-networking", "--disable-component-update", "--no-first-run"]
HOW = (
    "no Chromium was found. On Debian or Ubuntu: `sudo apt install chromium`; elsewhere: "
    "`python -m playwright install chromium`."
)


def pytest_collection_modifyitems(items):
    for item in items:
        if "browser" in item.path.parts:
            item.add_marker(pytest.mark.browser)


def as_root():
    return ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []


@pytest.fixture(scope="session")
def browser():
    """A headless Chromium, closed at the end of the run."""
    playwright = pytest.importorskip("playwright.sync_api", reason="the browser driver is not installed")
    found = next(filter(None, map(shutil.which, NAMES)), None)
    with playwright.sync_playwright() as driver:
        try:
            running = driver.chromium.launch(executable_path=found, args=[*QUIET, *as_root()])
        except playwright.Error as error:
            if found is None:
                pytest.skip(HOW)
            raise error
        yield running
        running.close()


@pytest.fixture
def tab(browser):
    """A fresh tab, for what may change the page."""
    page = browser_tabs.new(browser)
    yield page
    page.close()


@pytest.fixture(scope="session")
def looked_at(browser, demo_report):
    """Return the tab of a page of the demo's report, opened once; whoever asks for it only looks."""
    tabs = {}

    def tab_of(name):
        if name not in tabs:
            path = demo_report.index if name == "index" else demo_report.pages[name]
            tabs[name] = browser_tabs.open_page(browser_tabs.new(browser), path)
        return tabs[name]

    yield tab_of
    for one in tabs.values():
        one.close()


@pytest.fixture
def opened_in_lab(tab):
    """Open a notebook in JupyterLab in a fresh tab, as :func:`browser_tabs.open_in_lab`."""
    return lambda url: browser_tabs.open_in_lab(tab, url)
