"""Tabs of a browser: a fresh one, a page opened in it, a notebook opened in it in JupyterLab."""

import time

# What is asked is what a page shows, not how fast a busy machine shows it.
PATIENCE_SECONDS = 300
# Of a notebook in JupyterLab: whether it has run, what it asks, which cells are done.
STATE = """() => ({
    ran: document.body.dataset.shopPage === 'ran',
    asks: [...document.querySelectorAll('.jp-Dialog')].map((one) => one.innerText),
    cells: [...document.querySelectorAll('.jp-CodeCell .jp-InputPrompt')].map((one) => one.textContent),
})"""


def new(browser):
    """A tab that keeps what it asked the network for and what went wrong."""
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
    return page


def open_page(tab, path):
    """Open a page of a report, and wait until its charts are drawn."""
    tab.goto(path.as_uri())
    if tab.locator("figure.chart").count():
        tab.wait_for_function("document.body.dataset.charts === 'drawn'")
    return tab


def open_in_lab(tab, url):
    """Open a notebook in JupyterLab, and wait until it has run; fail where it stands still or asks something."""
    tab.goto(url)
    seen, since = None, time.monotonic()
    while not (state := tab.evaluate(STATE))["ran"]:
        if state != seen:
            seen, since = state, time.monotonic()
        assert not state["asks"] and time.monotonic() - since < PATIENCE_SECONDS, f"stands still: {state}"
        tab.wait_for_timeout(200)
    assert not state["asks"]
    return tab
