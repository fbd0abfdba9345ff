"""Executed notebooks as self-contained pages: no network, charts live on screen and still on paper."""

import base64
import gzip
import hashlib
import html
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from pipeline.reports import chart_rendering, theme

TEMPLATES = Path(__file__).with_name("templates")
ANSWER_TAG = "nbval-check-output"
_SHOWN_FIRST = [
    chart_rendering.MEDIA_TYPE,
    "text/html",
    "text/markdown",
    chart_rendering.STILL_TYPE,
    "image/png",
    "application/vnd.jupyter.widget-view+json",
    "text/plain",
]


@dataclass(frozen=True)
class Page:
    """One page of a report.

    Parameters
    ----------
    name : str
        Name of the notebook, and of the file without its ending.
    title : str
        The question the page answers: the notebook's first heading.
    answer : str
        What the checked cell printed, on one line.
    """

    name: str
    title: str
    answer: str

    @property
    def href(self):
        """File name relative to the folder of the pages."""
        return f"{self.name}.html"


def page_of(name, notebook):
    """Read the question and the answer off an executed notebook.

    Parameters
    ----------
    name : str
        Name of the notebook.
    notebook : nbformat.NotebookNode
        The notebook, with outputs.

    Returns
    -------
    Page
        The answer is empty where the checked cell did not run.
    """
    headings = (
        line.removeprefix("# ").strip()
        for cell in notebook.cells
        if cell.cell_type == "markdown"
        for line in cell.source.splitlines()
        if line.startswith("# ")
    )
    said = (
        output.get("text", "")
        for cell in notebook.cells
        if ANSWER_TAG in cell.metadata.get("tags", [])
        for output in cell.get("outputs", [])
        if output.get("name") == "stdout"
    )
    return Page(name, next(headings, name), " ".join("".join(said).split()))


def page_on_disk(path):
    """Read the question and the answer off a page written before.

    Parameters
    ----------
    path : pathlib.Path
        The page.

    Returns
    -------
    Page or None
        None where there is no such page.
    """
    if not path.is_file():
        return None
    body = path.read_text(encoding="utf-8")
    title, answer = (
        re.search(pattern, body, re.DOTALL)
        for pattern in ("<title>(.*?)</title>", '<p class="said headline">(.*?)</p>')
    )
    return Page(
        path.stem,
        html.unescape(title[1]) if title else path.stem,
        html.unescape(answer[1].replace("<br>", " ")) if answer else "",
    )


def write_page(page, notebook, folder, pages, parameters=()):
    """Write one page.

    Parameters
    ----------
    page : Page
        The page to write.
    notebook : nbformat.NotebookNode
        The notebook, with outputs.
    folder : pathlib.Path
        Where the pages go.
    pages : sequence of Page
        All pages to link to, in order.
    parameters : sequence of (str, object, str)
        Name, value and meaning of each parameter, shown at the foot.

    Returns
    -------
    pathlib.Path
        The file written.
    """
    has_charts = _add_stills(notebook) > 0
    drawing = (TEMPLATES / "draw.js").read_text(encoding="utf-8")
    resources = {
        "name": page.name,
        "title": page.title,
        "links": _links(page, pages),
        "style": style_sheet(),
        "table_style": f"<style>{theme.TABLE_STYLE}</style>",
        "chart_type": chart_rendering.MEDIA_TYPE,
        "policy": security_policy(drawing if has_charts else ""),
        "engine": _engine() if has_charts else "",
        "drawing": drawing,
        "parameters": [(name, repr(value), meaning) for name, value, meaning in parameters],
    }
    resources = {"page": resources, "metadata": {"name": page.name}}
    body, _ = _exporter().from_notebook_node(notebook, resources=resources)
    return _write(Path(folder) / page.href, body)


def write_front(pages, tables, folder, shop_name, today, orders=()):
    """Write the index page: one line of answer per page, the orders, and the tables.

    Parameters
    ----------
    pages : sequence of Page
        The pages, in order.
    tables : sequence of str
        File names in the ``tables`` folder.
    folder : pathlib.Path
        Where the pages go.
    shop_name : str
        Name of the workshop.
    today : datetime.date
        The day the report is for.
    orders : sequence of str
        Pages of the orders to print, as seen from the index.

    Returns
    -------
    pathlib.Path
        The file written.
    """
    import jinja2

    environment = jinja2.Environment(loader=jinja2.FileSystemLoader(TEMPLATES), autoescape=True)
    template = environment.get_template("front.html.j2")
    body = template.render(
        policy=security_policy(""),
        style=style_sheet(),
        pages=pages,
        tables=tables,
        orders=orders,
        shop_name=shop_name,
        today=today,
    )
    return _write(Path(folder) / "index.html", body)


def security_policy(script):
    """Content-security policy of a page: nothing from the network, and only the one script we wrote.

    Parameters
    ----------
    script : str
        The page's script; empty where it has none.

    Returns
    -------
    str
        Value of the policy's meta element. Vega builds its functions from expressions, hence ``unsafe-eval``
        on pages with charts.

    Examples
    --------
    >>> security_policy("")
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
    """
    policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
    if not script:
        return policy
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return f"{policy}; script-src 'sha256-{digest}' 'unsafe-eval'"


def prepare():
    """Do what every page needs and takes a second or two, while something else is waited for."""
    _engine()
    _exporter()


@cache
def style_sheet():
    """Style of every page, colours and font from the theme.

    Returns
    -------
    str
        CSS.
    """
    rules = (TEMPLATES / "page.css").read_text(encoding="utf-8")
    return f"{theme.style_variables()}\n{theme.TABLE_STYLE}\n{rules}"


def _add_stills(notebook):
    charts = [
        output["data"]
        for cell in notebook.cells
        for output in cell.get("outputs", [])
        if chart_rendering.MEDIA_TYPE in output.get("data", {})
    ]
    for chart in charts:
        # it names the version that JupyterLab draws, not the page's
        chart[chart_rendering.MEDIA_TYPE].pop("$schema", None)
        chart[chart_rendering.STILL_TYPE] = chart_rendering.still(chart[chart_rendering.MEDIA_TYPE])
    return len(charts)


@cache
def _engine():
    script = chart_rendering.drawing_script().encode()
    return base64.b64encode(gzip.compress(script, 9, mtime=0)).decode()


@cache
def _exporter():
    from nbconvert import TemplateExporter
    from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath
    from traitlets.config import Config

    # Not the ready-made HTML exporter: it parses and rewrites the finished page, charts included.
    config = Config({"NbConvertBase": {"display_data_priority": _SHOWN_FIRST}})
    exporter = TemplateExporter(
        config=config, file_extension=".html", template_name="page", extra_template_basedirs=[str(TEMPLATES)]
    )
    renderer = IPythonRenderer(escape=False, exclude_anchor_links=True)
    exporter.register_filter("markdown2html", MarkdownWithMath(renderer=renderer).render)
    return exporter


def _links(here, pages):
    links = [{"href": "index.html", "text": "All pages", "is_here": False}]
    return links + [
        {"href": page.href, "text": page.name.capitalize(), "is_here": page.name == here.name} for page in pages
    ]


def _write(path, body):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(body, encoding="utf-8", newline="\n")
    return path
