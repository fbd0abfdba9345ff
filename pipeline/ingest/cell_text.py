"""The value of a worksheet's cell as text, spelled as a CSV file would spell it."""

import datetime
import re
from decimal import Decimal

# ECMA-376 part 1, 22.9.2.19: a character that XML cannot hold is written _xHHHH_ with its code, and the first
# character of a text that looks like that as _x005F_.
_FORBIDDEN = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]")
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_ESCAPED = re.compile(r"_x(00[01][0-9A-Fa-f]|005[Ff]|[Ff]{3}[EeFf])_")
_DAY_SECONDS = 86_400


def text_of(value):
    """Return the text of a cell's value (str).

    Parameters
    ----------
    value : object
        As openpyxl gives it: text, number, truth value, day, time, length of time, formula, or None.

    Returns
    -------
    str
        Text as typed; numbers in plain decimal notation, whole ones without a point; days as 2025-03-09, with the
        time of day behind where there is one (to the second); formulas as they stand; empty for None.

    Examples
    --------
    >>> [text_of(value) for value in (20.0, 0.1, 1e-05, True, None, datetime.datetime(2025, 3, 9))]
    ['20', '0.1', '0.00001', 'TRUE', '', '2025-03-09']
    """
    read = _READ.get(type(value))
    return read(value) if read else _formula(value)


def escaped(text):
    r"""Return a text as a worksheet can hold it; :func:`text_of` gives it back unchanged.

    Examples
    --------
    >>> escaped("bell\x07 and _x0007_")
    'bell_x0007_ and _x005F_x0007_'
    """
    return _FORBIDDEN.sub(lambda found: f"_x{ord(found[0]):04X}_", _LOOKS_ESCAPED.sub("_x005F_", text))


def forbidden(text):
    r"""Return the characters of a text that a worksheet shows as nothing or a box (list of str, each once).

    Examples
    --------
    >>> forbidden("a\x07b\r\n")
    ['U+0007']
    """
    return [f"U+{ord(character):04X}" for character in dict.fromkeys(_FORBIDDEN.findall(text)) if character != "\r"]


def _typed(text):
    return _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def _number(number):
    if number.is_integer():
        return str(int(number))
    return f"{Decimal(repr(number)):f}"


def _day(moment):
    day = f"{moment.year:04}-{moment.month:02}-{moment.day:02}"
    is_midnight = (moment.hour, moment.minute, moment.second) == (0, 0, 0)
    return day if is_midnight else f"{day} {_time(moment)}"


def _time(moment):
    return f"{moment.hour:02}:{moment.minute:02}:{moment.second:02}"


def _length(length):
    seconds = length.days * _DAY_SECONDS + length.seconds
    return f"{'-' if seconds < 0 else ''}{abs(seconds) // 3600}:{abs(seconds) // 60 % 60:02}:{abs(seconds) % 60:02}"


def _formula(value):
    """The text of a formula that openpyxl keeps as an object: one over many cells, or a table of what-ifs."""
    return getattr(value, "text", None) or f"={{{getattr(value, 'ref', '')}}}"


_READ = {
    type(None): lambda value: "",
    str: _typed,
    int: str,
    float: _number,
    bool: lambda value: str(value).upper(),
    datetime.datetime: _day,
    datetime.date: datetime.date.isoformat,
    datetime.time: _time,
    datetime.timedelta: _length,
}
