"""A frame as an accessible HTML table: the same in a notebook, on a page and on paper."""

import html
from dataclasses import dataclass, field
from urllib.parse import quote

import pandas as pd

from pipeline.reports import formats, theme

LONG_COLUMNS = ("why", "note", "suggestion", "reason", "unlocks", "method", "caution", "source", "what_to_do")
WRAPPED_COLUMNS = ("description", "condition")


@dataclass(frozen=True)
class Table:
    """A frame with a caption, shown with units, thousands and dashes for the unknown.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows in the order to show; column names end in their units.
    caption : str
        What the table shows, in one sentence.
    currency : str
        Currency code for the columns of money.
    headings : dict of str to str
        Words that replace the ones made from a column's name.
    dash : str
        What a dash means in this table.
    is_whole : bool
        True where no row may hide behind a scroll bar.
    """

    frame: pd.DataFrame
    caption: str
    currency: str = ""
    headings: dict = field(default_factory=dict)
    dash: str = "unknown"
    is_whole: bool = False

    def _repr_html_(self):
        return f"<style>{theme.TABLE_STYLE}</style>{table_html(self)}"

    def __repr__(self):
        return f"{self.caption}\n{self.frame.to_string(index=False)}"


@dataclass(frozen=True)
class Note:
    """A sentence shown where a table or chart would stand.

    Parameters
    ----------
    text : str
        What is missing, and what would unlock it.
    is_warning : bool
        True where the reader must not overlook it.
    """

    text: str
    is_warning: bool = False

    def _repr_html_(self):
        kind = "shop-note warning" if self.is_warning else "shop-note"
        return f'<style>{theme.TABLE_STYLE}</style><p class="{kind}" role="note">{html.escape(self.text)}</p>'

    def __repr__(self):
        return self.text


@dataclass(frozen=True)
class Links:
    """A sentence and the files it speaks of.

    Parameters
    ----------
    text : str
        What the files are.
    files : tuple of str
        Their places as seen from the page, forward slashes between folders.
    """

    text: str
    files: tuple = ()

    def _repr_html_(self):
        linked = " · ".join(f'<a href="{html.escape(quote(file))}">{html.escape(file)}</a>' for file in self.files)
        return f'<style>{theme.TABLE_STYLE}</style><p class="shop-note">{html.escape(self.text)} {linked}</p>'

    def __repr__(self):
        return " ".join((self.text, *self.files))


def table_html(table):
    """Draw a table.

    Parameters
    ----------
    table : Table
        What to draw.

    Returns
    -------
    str
        HTML: a region that scrolls when long, its caption, column and row headers.
    """
    classes = {column: _column_class(table.frame[column], column) for column in table.frame}
    columns = [_cells(table.frame[column], column, words, table.dash) for column, words in classes.items()]
    rows = zip(*columns, strict=True)
    body = "".join(f"<tr>{_row_header(first)}{''.join(rest)}</tr>" for first, *rest in rows)
    caption = html.escape(table.caption)
    key = (
        f'<p class="key">{formats.UNKNOWN} means {html.escape(table.dash)}.</p>'
        if formats.UNKNOWN in body
        else ""
    )
    size = "shop-table whole" if table.is_whole else "shop-table"
    return (
        f'<div class="{size}" role="region" tabindex="0" aria-label="{caption}"><table>'
        f"<caption>{caption}</caption><thead><tr>{_headers(table, classes)}</tr></thead>"
        f"<tbody>{body}</tbody></table></div>{key}"
    )


def _headers(table, classes):
    texts = {
        column: table.headings.get(column) or formats.heading(column, table.currency) for column in classes
    }
    return "".join(
        f'<th scope="col"{_class(words)}>{html.escape(texts[column])}</th>' for column, words in classes.items()
    )


def _column_class(values, column):
    if column in LONG_COLUMNS:
        return "long"
    if column in WRAPPED_COLUMNS:
        return "wrapped"
    is_number = pd.api.types.is_numeric_dtype(values) and not pd.api.types.is_bool_dtype(values)
    return "" if is_number or formats.unit_of(column) not in ("", "on", "at") else "words"


def _class(words):
    return f' class="{words}"' if words else ""


def _cells(values, column, words, dash):
    known = f"<td{_class(words)}>"
    for value in values.tolist():
        text = formats.cell_text(value, column)
        if text == formats.UNKNOWN:
            yield (
                f'<td class="{(words + " unknown").strip()}"><span aria-hidden="true">{text}</span>'
                f'<span class="spoken">{html.escape(dash)}</span></td>'
            )
        else:
            yield f"{known}{html.escape(text)}</td>"


def _row_header(cell):
    return '<th scope="row"' + cell[len("<td") : -len("</td>")] + "</th>"
