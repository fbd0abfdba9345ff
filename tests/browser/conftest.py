"""A Chromium that is on this machine; without one the tests say how to get it."""

import os
import shutil
import time

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
# What is asked is what a page shows, not how fast a busy machine shows it.
PATIENCE_SECONDS = 300
# Of a notebook in JupyterLab: whether it has run, what it asks, which cells are done.
STATE = """() => ({
    ran: document.body.dataset.shopPage === 'ran',
    asks: [...document.querySelectorAll('.jp-Dialog')].map((one) => one.innerText),
    cells: [...document.querySelectorAll('.jp-CodeCell .jp-InputPrompt')].map((one) => one.textContent),
})"""
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
    """A fresh tab that keeps what it asked the network for and what went wrong."""
    page = browser.new_page(viewport={"width": 1080, "height": 900})
    page.set_default_timeout(PATIENCE_SECONDS * 1000)
    page.asked, page.complaints, page.questions = [], [], []
    page.on("request", lambda request: page.asked.append(request.url))
    page.on(
        "console",
        lambda message: page.complaints.append(message.text) if message.type in ("error", "warning") else None,
    )
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on("dialog", lambda dialog: (page.questions.append(dialog.message), dialog.accept()))
    yield page
    page.close()


@pytest.fixture
def opened_in_lab(tab):
    """Open a notebook in JupyterLab, and wait until it has run; fail where it stands still or asks something."""

    def open_page(url):
        tab.goto(url)
        seen, since = None, time.monotonic()
        while not (state := tab.evaluate(STATE))["ran"]:
            if state != seen:
                seen, since = state, time.monotonic()
            assert not state["asks"] and time.monotonic() - since < PATIENCE_SECONDS, f"stands still: {state}"
            tab.wait_for_timeout(200)
        assert not state["asks"]
        return tab

    return open_page
