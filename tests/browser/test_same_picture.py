"""The three engines that draw a chart (page, still, JupyterLab) show the same rows in the same order."""

import base64
import html
import json
import re

import pytest

from pipeline.reports import lab

DRAWN = ["today", "consumption", "shelf", "scope", "earnings", "health"]
# Opened in JupyterLab a notebook reckons all that it shows; those that reckon longest are opened under slow alone.
LONG_TO_OPEN = ("today", "consumption", "scope")
TEXTS = "(all) => all.map((svg) => [...svg.querySelectorAll('text')].map((one) => one.textContent).filter(Boolean))"


@pytest.fixture(scope="module")
def report(demo_report):
    return demo_report


@pytest.fixture(scope="module")
def serving(demo_shop, tmp_path_factory):
    with lab.serve(demo_shop.store, tmp_path_factory.mktemp("lab"), "today") as running:
        yield running


def figures(page):
    """The specification and the still of every chart on a page."""
    text = page.read_text(encoding="utf-8")
    specs = [json.loads(one) for one in re.findall(r'class="spec">(.*?)</script>', text, re.DOTALL)]
    stills = [base64.b64decode(one).decode() for one in re.findall(r'src="data:image/svg\+xml;base64,([^"]+)"', text)]
    assert len(specs) == len(stills)
    return specs, stills


def row_names(spec):
    """Names of the rows in the order that the specification states; an axis of numbers has none."""
    layers = [spec, *spec.get("layer", []), *(part for whole in spec.get("vconcat", []) for part in whole["layer"])]
    axes = [layer.get("encoding", {}).get("y", {}) for layer in layers]
    scales = [axis.get("scale") or {} for axis in axes if axis.get("type") == "nominal"]
    return next((scale["domain"] for scale in scales if "domain" in scale), [])


def in_order(names, texts):
    """Whether the names stand among the texts, each cut for the axis if need be, in their order."""
    kept = [text.rstrip("…") for text in texts]
    places = [next((n for n, text in enumerate(kept) if text and str(name).startswith(text)), None) for name in names]
    return None not in places and places == sorted(places)


@pytest.mark.parametrize("name", DRAWN)
def test_the_page_and_its_still_show_the_same_words(looked_at, report, name):
    live = looked_at(name).locator("figure.chart .live svg.marks").evaluate_all(TEXTS)
    _, stills = figures(report.pages[name])
    for words, still in zip(live, stills, strict=True):
        drawn = [re.sub(r"<[^>]+>", "", text) for text in re.findall(r"<text[^>]*>(.*?)</text>", still, re.DOTALL)]
        assert sorted(words) == sorted(filter(None, map(html.unescape, drawn)))


@pytest.mark.parametrize("name", DRAWN)
def test_rows_stand_in_the_order_of_their_frame(looked_at, report, name):
    live = looked_at(name).locator("figure.chart .live svg.marks").evaluate_all(TEXTS)
    specs, _ = figures(report.pages[name])
    for words, spec in zip(live, specs, strict=True):
        assert in_order(row_names(spec), words), spec["title"]


@pytest.mark.parametrize("name", [
    pytest.param(name, marks=pytest.mark.slow if name in LONG_TO_OPEN else ()) for name in DRAWN])
def test_jupyterlab_draws_the_same_rows_in_the_same_order(opened_in_lab, serving, report, name):
    tab = opened_in_lab(serving.url.replace("today.ipynb", f"{name}.ipynb"))
    specs, _ = figures(report.pages[name])
    tab.wait_for_function(f"document.querySelectorAll('.jp-OutputArea-output svg.marks').length === {len(specs)}")
    live = tab.locator(".jp-OutputArea-output svg.marks").evaluate_all(TEXTS)
    for words, spec in zip(live, specs, strict=True):
        assert in_order(row_names(spec), words), spec["title"]


@pytest.mark.parametrize("name", DRAWN)
def test_no_chart_is_empty(looked_at, report, name):
    marks = looked_at(name).locator("figure.chart .live svg.marks").evaluate_all(
        "(all) => all.map((svg) => svg.querySelectorAll('.role-mark path, .role-mark line').length)"
    )
    assert min(marks) >= 2


def test_rows_out_of_order_would_be_seen():
    assert in_order(["b", "a"], ["Title", "b", "a"]) and not in_order(["b", "a"], ["Title", "a", "b"])
    assert not in_order(["b", "c"], ["Title", "b"]) and in_order(["ball Ball, carbon"], ["ball Ball, c…"])
