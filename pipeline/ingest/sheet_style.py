"""How the cells of our workbooks look: one style for each purpose, notes, and widths.

The colours are those of charts and pages; a colour never stands alone: what is required is bold and has a note,
what is marked is bold, has a note and is told in words at the end of its row.
"""

from pipeline.ingest.cell_text import escaped
from pipeline.store import rule_words

INK, QUIET_INK, PAPER, SHADE = "1C2430", "55606F", "FFFFFF", "F1F4F7"
DEEP = "1F4E8C"
MARK, MARK_INK = "E9DAE1", "7A1F4B"  # the warning colour, a sixth of it on paper, and whole

STYLES = {
    "text": {"format": "@"},
    "day": {"format": "yyyy-mm-dd"},
    "number": {},
    "title": {"font": {"b": True, "sz": 14, "color": INK}},
    "heading": {"font": {"b": True, "color": INK}, "fill": SHADE},
    "required": {"font": {"b": True, "color": PAPER}, "fill": DEEP, "format": "@"},
    "optional": {"font": {"b": True, "color": INK}, "fill": SHADE, "format": "@"},
    "example_text": {"font": {"i": True, "color": QUIET_INK}, "format": "@"},
    "example_day": {"font": {"i": True, "color": QUIET_INK}, "format": "yyyy-mm-dd"},
    "example_number": {"font": {"i": True, "color": QUIET_INK}},
    "marked": {"font": {"b": True, "color": MARK_INK}, "fill": MARK, "format": "@"},
    "reason": {"font": {"color": MARK_INK}, "format": "@", "is_wrapped": True},
}
_NOTE_WIDTH, _NOTE_LINE, _NOTE_CHARACTERS = 260, 18, 36  # pixels, pixels, characters on a line
# What the catalogue cannot say of a column, because it is a matter between two files.
_BESIDE = {("jobs", "family"): "may be empty where the machine is given and listed in machines",
           ("job_parts", "part"): "an alias will do", ("order_lines", "part"): "an alias will do"}


def style(sheet, name):
    """Return the style of one purpose, to be given to cells of a sheet.

    Parameters
    ----------
    sheet : openpyxl worksheet
    name : str
        Of :data:`STYLES`.

    Returns
    -------
    openpyxl.styles.cell_style.StyleArray
        For ``cell._style``: looking the parts of a style up anew for each of many cells takes most of the time.
    """
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment, Font, PatternFill

    look, cell = STYLES[name], WriteOnlyCell(sheet)
    if "font" in look:
        cell.font = Font(name="Calibri", **{"sz": 11, **look["font"]})
    if "fill" in look:
        cell.fill = PatternFill("solid", fgColor=look["fill"])
    cell.number_format = look.get("format", "General")
    cell.alignment = Alignment(vertical="top", wrap_text=look.get("is_wrapped", False))
    return cell._style


def note(text):
    """Return a note to stand at a cell, large enough for its text (openpyxl.comments.Comment)."""
    from openpyxl.comments import Comment

    lines = sum(1 + len(line) // _NOTE_CHARACTERS for line in text.splitlines())
    return Comment(escaped(text), "Sparebench", height=_NOTE_LINE * (lines + 1), width=_NOTE_WIDTH)


def about(table, column):
    """Return what a column of the contract holds and wants, in words.

    Parameters
    ----------
    table : pipeline.store.catalogue.Table
    column : pipeline.store.catalogue.Column

    Returns
    -------
    str
        Whether it is required; meaning and unit; one line for each rule.
    """
    lines = ["Required." if column.is_required else "May be empty; empty means unknown.", f"{column.meaning}."]
    if column.type != "VARCHAR":
        lines.append(f"{rule_words.wanted(column)[1]}.")
    lines += [f"{rule_words.check(text, columns)[1]}." for text, columns in table.checks if column.name in columns]
    lines += [f"listed in {parent}." for name, parent, _ in table.references if name == column.name]
    lines += [f"{words}." for key, words in _BESIDE.items() if key == (table.name, column.name)]
    return "\n".join(line[:1].upper() + line[1:] for line in lines)


def set_widths(sheet, widths):
    """Set the widths of a sheet's columns, in characters, from the first one on."""
    from openpyxl.utils import get_column_letter

    for n, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(n)].width = width
