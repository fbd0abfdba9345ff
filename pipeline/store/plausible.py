"""What a bench can have meant: days and numbers beyond it are slips of the pen, and are asked about."""

import datetime
import itertools

EARLIEST_ON = datetime.date(1930, 1, 1)
YEARS_AHEAD = 10
YEARS_BACK = 20
# A clock that has lost its time must not put every row in doubt.
RELEASED_ON = datetime.date(2026, 1, 1)
# Most in one row, common practice, no source: far beyond what one person counts, buys or works at once.
MOST = {"pieces": 100_000, "packs": 100_000, "hours": 10_000, "days": 36_525, "games": 1_000_000_000}
# Into one machine goes less: its largest set, of lamps or of rings, is of a few hundred pieces.
OF_A_MACHINE = ("job_parts", "findings", "assembly_parts", "family_assemblies", "companions")
MOST_OF_A_MACHINE, MOST_IN_A_PACK = 1_000, 10_000


def latest_on(today=None):
    """Return the last day that a record may bear: ten years after today.

    Parameters
    ----------
    today : datetime.date, optional
        By default the clock's, or the day of this release where the clock is behind it.

    Returns
    -------
    datetime.date

    Examples
    --------
    >>> latest_on(datetime.date(2028, 2, 29))
    datetime.date(2038, 2, 28)
    """
    today = max(today or datetime.date.today(), RELEASED_ON)
    return _moved(today, YEARS_AHEAD)


def rule(table, column, latest):
    """Return the rule that keeps a column plausible.

    Parameters
    ----------
    table : str
    column : pipeline.store.catalogue.Column
    latest : datetime.date
        As :func:`latest_on`.

    Returns
    -------
    tuple of (str, str, str) or None
        Name of the rule, what is wanted in words, and the SQL condition under which ``typed <column>`` breaks it; None
        where any value of the column's type may be meant.
    """
    typed = f'"typed {column.name}"'
    if column.type == "DATE":
        return ("implausible_day", f"wanted a day from {EARLIEST_ON} to {latest}",
                f"not ({typed} between date '{EARLIEST_ON}' and date '{latest}')")
    unit = _unit(column)
    if unit is None:
        return None
    most = MOST[unit]
    if unit == "pieces":
        most = MOST_OF_A_MACHINE if table in OF_A_MACHINE else MOST_IN_A_PACK if column.name == "pack_pcs" else most
    return ("implausible_number", f"wanted no more than {most:,} {unit} in one row; a slip of the pen, or a number of"
            " another column?", f"abs({typed}) > {most}")


def did_you_mean(text, latest):
    """Return the day that a slip in the year makes of another (str, empty where none is near).

    Two digits of the year changed places, or one is wrong; of several the newest that is not after today, ten years
    before ``latest``, and not more than twenty years before that: what is written down lies mostly just behind.

    Parameters
    ----------
    text : str
        ISO day.
    latest : datetime.date

    Returns
    -------
    str
        ISO day.

    Examples
    --------
    >>> [did_you_mean(day, datetime.date(2036, 1, 1)) for day in ("2205-03-09", "1025-03-09", "9999-01-01")]
    ['2025-03-09', '2025-03-09', '']
    """
    year, rest = text[:4], text[4:]
    today = _moved(latest, -YEARS_AHEAD)
    oldest = max(EARLIEST_ON, _moved(today, -YEARS_BACK))
    days = [f"{other}{rest}" for other in (*_swapped(year), *_one_wrong(year))]
    return max((day for day in days if f"{oldest}" <= day <= f"{today}"), default="")


def _moved(day, years):
    return day.replace(year=day.year + years, day=min(day.day, 28) if day.month == 2 else day.day)


def _unit(column):
    words = set(column.name.split("_"))
    named = {"pcs": "pieces", "count": "pieces", "packs": "packs", "hours": "hours", "days": "days", "plays": "games"}
    if column.type == "VARCHAR" or column.is_money:
        return None
    return next((unit for word, unit in named.items() if word in words), None)


def _swapped(year):
    found = []
    for one, two in itertools.combinations(range(4), 2):
        digits = list(year)
        digits[one], digits[two] = digits[two], digits[one]
        found.append("".join(digits))
    return found


def _one_wrong(year):
    return [year[:at] + digit + year[at + 1:] for at in range(4) for digit in "0123456789"]
