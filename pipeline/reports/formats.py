"""Numbers and column names as a reader wants them: units, thousands, and a dash where nothing is known."""

import datetime
import math
import numbers

UNKNOWN = "—"

_UNITS = {"pcs": "pcs", "hours": "hours", "days": "days", "months": "months", "share": "", "on": "", "at": ""}
_MONEY = ("amount", "price", "per_hour")
_WORDS = {
    "q05": "5 %",
    "q10": "10 %",
    "q25": "25 %",
    "q50": "median",
    "q75": "75 %",
    "q80": "80 %",
    "q90": "90 %",
    "q95": "95 %",
    "qty": "quantity",
    "today": "ready today",
    "planned": "ready as planned",
    "planned_low": "planned, low",
    "planned_high": "planned, high",
    "equal_share_rule": "equal-share rule",
}


def unit_of(column):
    """Unit that a column's name ends with.

    Parameters
    ----------
    column : str
        Column name of an output table.

    Returns
    -------
    str
        ``pcs``, ``hours``, ``days``, ``months``, ``share``, ``on``, ``at``, ``amount``, ``price``, ``per_hour``
        or an empty string.

    Examples
    --------
    >>> unit_of("on_hand_pcs"), unit_of("margin_per_hour"), unit_of("part")
    ('pcs', 'per_hour', '')
    """
    for unit in (*_UNITS, *_MONEY):
        if column == unit or column.endswith("_" + unit):
            return unit
    return ""


def heading(column, currency=""):
    """Column name in words, with its unit.

    Parameters
    ----------
    column : str
        Column name of an output table.
    currency : str
        Currency code of the shop, for columns of money.

    Returns
    -------
    str
        Heading for a table column or an axis.

    Examples
    --------
    >>> heading("on_hand_pcs"), heading("q90_amount", "EUR"), heading("margin_per_hour", "EUR")
    ('on hand, pcs', '90 %, EUR', 'margin, EUR per hour')
    >>> heading("from_on"), heading("today_share")
    ('from', 'ready today')
    """
    unit = unit_of(column)
    stem = column.removesuffix(unit).rstrip("_") if unit else column
    if not stem:
        return unit
    words = _WORDS.get(stem, stem.replace("callback", "call-back").replace("_", " "))
    if unit == "per_hour":
        return f"{words}, {currency} per hour" if currency else f"{words} per hour"
    if unit in _MONEY:
        return f"{words}, {currency}" if currency else f"{words} {unit}"
    return f"{words}, {_UNITS[unit]}" if _UNITS.get(unit) else words


def is_unknown(value):
    """Whether a cell holds no value: None, NaN, NaT or an empty text.

    Parameters
    ----------
    value : object
        One cell.

    Returns
    -------
    bool
        True where nothing is known.

    Examples
    --------
    >>> is_unknown(float("nan")), is_unknown(""), is_unknown(0)
    (True, True, False)
    """
    if value is None or type(value).__name__ == "NAType":
        return True
    return bool(value != value) or (isinstance(value, str) and not value)


def number_text(value, unit):
    """One known number in the precision its unit deserves.

    Parameters
    ----------
    value : float
        The number.
    unit : str
        As `unit_of` returns it.

    Returns
    -------
    str
        The number with thousands apart.

    Examples
    --------
    >>> number_text(1234.5, "amount"), number_text(0.784, "share"), number_text(3.0, "pcs"), number_text(3.25, "pcs")
    ('1,234.50', '78 %', '3', '3.2')
    >>> number_text(0.0312, "failures")
    '0.031'
    """
    if math.isinf(value):
        return "no limit" if value > 0 else "none"
    if unit == "share":
        digits = 1 if 0 < abs(value) < 0.01 else 0  # rare is not never
        return f"{100 * value:,.{digits}f} %"
    if unit in _MONEY:
        return f"{value:,.2f}"
    if unit in ("pcs", "days", "months") and float(value).is_integer():
        return f"{value:,.0f}"
    if unit in ("pcs", "hours", "days", "months"):
        return f"{value:,.1f}"
    if isinstance(value, numbers.Integral) or (float(value).is_integer() and abs(value) >= 10):
        return f"{value:,.0f}"
    return f"{value:,.2f}" if abs(value) >= 0.1 or value == 0 else f"{value:.2g}"


def cell_text(value, column=""):
    """One cell as text; the dash where nothing is known, never a zero.

    Parameters
    ----------
    value : object
        Number, date, truth value or text.
    column : str
        Column name, whose ending gives the unit.

    Returns
    -------
    str
        Text to show.

    Examples
    --------
    >>> cell_text(None, "on_hand_pcs"), cell_text(0, "on_hand_pcs"), cell_text(True), cell_text("set_aside", "outcome")
    ('—', '0', 'yes', 'set aside')
    """
    if is_unknown(value):
        return UNKNOWN
    if type(value).__name__ in ("bool", "bool_"):
        return "yes" if value else "no"
    if isinstance(value, numbers.Number) or type(value).__name__ == "Decimal":
        return number_text(value if isinstance(value, numbers.Integral) else float(value), unit_of(column))
    if isinstance(value, datetime.datetime) and not column.endswith("_at"):
        return value.date().isoformat()
    if isinstance(value, datetime.datetime):
        return value.strftime("%Y-%m-%d %H:%M")
    if isinstance(value, datetime.date):
        return value.isoformat()
    return str(value).replace("_", " ") if column in CODED else str(value)


CODED = ("outcome", "scope", "option", "action", "shelf_rule", "kind", "rule", "status")


def money(value, currency):
    """An amount in a sentence.

    Parameters
    ----------
    value : float or None
        The amount.
    currency : str
        Currency code of the shop.

    Returns
    -------
    str
        Currency and amount, whole units from a hundred up; ``unknown`` where nothing is known.

    Examples
    --------
    >>> money(1234.56, "EUR"), money(9.5, "EUR"), money(None, "EUR"), money(-20, "EUR")
    ('EUR 1,235', 'EUR 9.50', 'unknown', 'EUR -20.00')
    """
    if is_unknown(value):
        return "unknown"
    digits = 0 if abs(value) >= 100 else 2
    return f"{currency} {float(value):,.{digits}f}".strip()


def count_of(number, one, many=None):
    """A number with its noun.

    Parameters
    ----------
    number : int
        How many.
    one, many : str
        The noun for one and for more; ``many`` defaults to ``one`` with an s.

    Returns
    -------
    str
        Words for a sentence.

    Examples
    --------
    >>> count_of(1, "part"), count_of(1200, "part"), count_of(2, "family", "families")
    ('1 part', '1,200 parts', '2 families')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"
