"""What came of an order: one delivery at a time, whole or in part, by the rules a file obeys.

Each delivery is a row of ``receipts`` with the notebook's mark: no load drops it, and the order's own lines stay as
their file has them. A line is open as long as it bears no day of receipt and its receipts bring less than was ordered.
"""

from dataclasses import dataclass

import pandas as pd

from pipeline.errors import RecordsError, UsageError
from pipeline.ingest import bench
from pipeline.ingest.identifiers import Known, fold
from pipeline.store import append, catalogue, connect, near, read

NOTHING = "Nothing was recorded."


@dataclass(frozen=True)
class Received:
    """What was booked in.

    Attributes
    ----------
    order_no, vendor : str
    booked : list of str
        A sentence for each line.
    still : pandas.DataFrame
        Columns part, qty_pcs, open_pcs of the lines still to come.
    """

    order_no: str
    vendor: str
    booked: list
    still: pd.DataFrame

    def lines(self):
        """Return the lines to print (list of str)."""
        if self.still.empty:
            return [*self.booked, f"Nothing of order {self.order_no} ({self.vendor}) is still to come."]
        open_lines = [f"{bench.pieces_words(line.open_pcs)} of {line.part}" for line in self.still.itertuples()]
        return [*self.booked, f"Still to come of order {self.order_no} ({self.vendor}): {', '.join(open_lines)}."]


@dataclass(frozen=True)
class _Terms:
    """Last day a delivery may bear (None: any), and whether more may come than was ordered."""

    latest: object
    allows_more: bool


def pairs(texts):
    """Read what the command line says came.

    Parameters
    ----------
    texts : sequence of str
        Each as ``PART=PIECES``; a part may hold the sign, too: the last one counts.

    Returns
    -------
    list of (str, str) or None
        Parts and pieces as typed; None where nothing is said, so everything came.

    Raises
    ------
    UsageError
        If one is not in that form.

    Examples
    --------
    >>> pairs(["sleeve=5", "a=b=2"]), pairs([])
    ([('sleeve', '5'), ('a=b', '2')], None)
    """
    found = [text.rpartition("=") for text in texts]
    for text, (part, _, pieces) in zip(texts, found, strict=True):
        if not (part.strip() and pieces.strip()):
            raise UsageError(f"--part {text}: wanted PART=PIECES, such as --part sleeve=5")
    return [(part, pieces) for part, _, pieces in found] or None


def receive(shop_file, order_no, received_on=None, pieces=None, today=None, allows_more=False):
    """Book in a delivery of an order: all of it, or nothing.

    Parameters
    ----------
    shop_file : str or pathlib.Path
        The store; it must exist.
    order_no : str
        Whose delivery.
    received_on : datetime.date or str, optional
        Day, as 2025-03-09; default the day that shop.csv says is today, else ``today``.
    pieces : sequence of (str, str or int), optional
        Parts (or aliases) and pieces; default everything that is still to come.
    today : datetime.date, optional
        No delivery lies later.
    allows_more : bool
        True where more came of a part than was ordered.

    Returns
    -------
    Received

    Raises
    ------
    RecordsError
        If there is no such order or line, nothing of it is still to come, more came than is open, or a value breaks
        a rule; the message says which and what is near. Nothing is recorded.
    StoreError
        If there is no store, or it is open elsewhere.
    """
    with connect.change(connect.require(shop_file)) as connection:
        known = Known(connection, {})
        order = _order(connection, known, order_no)
        came = _everything(order) if pieces is None else _named(connection, known, order, pieces)
        day, latest = _days(connection, received_on, today)
        booked = [_booked(connection, line, number, day, _Terms(latest, allows_more)) for line, number in came]
        still = _lines(connection, order["order_no"].iloc[0])
        return Received(*order[["order_no", "vendor"]].iloc[0], booked, still[still["open_pcs"] > 0])


def _order(connection, known, text):
    """Lines of the order meant."""
    names = known.names("order_no")
    meant = {fold(name): name for name in names}.get(fold(str(text)))
    if meant is None and not names:
        raise RecordsError(f"order_no is '{text}'; no order is on record. Add orders.csv and order_lines.csv to the "
                           f"shop folder and load it. {NOTHING}")
    if meant is None:
        raise RecordsError(f"order_no is '{text}'; wanted an order listed in orders{_or_so(connection, text, names)} "
                           f"{NOTHING}")
    order = _lines(connection, meant)
    if order.empty:
        raise RecordsError(f"order {meant} has no lines in order_lines. Add them and load. {NOTHING}")
    return order


def _lines(connection, order_no):
    return read.query(connection, "from order_states where order_no = ? order by part", [order_no])


def _everything(order):
    """Every open line with all of its open pieces."""
    due = [(line, line.open_pcs) for line in order.itertuples(index=False) if line.open_pcs > 0]
    if not due:
        said = "; ".join(f"{line.brought_pcs:,} of {line.qty_pcs:,} {line.part} came{_closed(line)}"
                         for line in order.itertuples(index=False))
        raise RecordsError(
            f"order {order['order_no'].iloc[0]}: wanted one with pieces still to come; {said}. {NOTHING}")
    return due


def _named(connection, known, order, pieces):
    """The lines named, with the pieces typed."""
    by_part = {line.part: line for line in order.itertuples(index=False)}
    found = {}
    for text, number in pieces:
        part = _part(known, text)
        if part not in by_part:
            raise RecordsError(f"part is '{text}'; order {order['order_no'].iloc[0]} has {', '.join(by_part)}"
                               f"{_or_so(connection, text, list(by_part))} {NOTHING}")
        if part in found:
            raise RecordsError(f"part {part} is named twice; wanted one number of pieces for it. {NOTHING}")
        found[part] = (by_part[part], number)
    if not found:
        raise RecordsError(
            f"no pieces are named; wanted at least one line of order {order['order_no'].iloc[0]}. {NOTHING}")
    return list(found.values())


def _part(known, text):
    """A part's identifier in the spelling that is shown, an alias resolved."""
    table = catalogue.tables()["receipts"]
    column = next(column for column in table.columns if column.name == "part")
    texts = pd.Series([str(text)], dtype=object)
    return known.spelled(table, column, known.unaliased(table, column, texts)).iloc[0]


def _booked(connection, line, number, day, terms):
    """Write one delivery; return it in words."""
    _refuse_closed(line)
    row = {"order_no": line.order_no, "part": line.part, "received_on": day, "received_pcs": number, "batch": None}
    mends = bench.stage_row(connection, "receipts", row)
    (pcs, came_on), = connection.execute(
        'select "typed received_pcs", "typed received_on" from staged_receipts').fetchall()
    _check(line, pcs, came_on, terms)
    total = pcs
    # Equal rows are one: a delivery that equals another of its day is written with it, as one row of both.
    while (who := append.written_by(connection, "receipts")) == "notebook":
        append.take_back(connection, "receipts")
        total *= 2
        bench.stage_row(connection, "receipts", row | {"received_pcs": total})
    if who == "folder":
        raise RecordsError(
            f"order {line.order_no}, {line.part}: the receipts of the folder have {bench.pieces_words(total)} on "
            f"{came_on} already. If as many came again that day, write both as one row there and load. {NOTHING}")
    bench.keep_row(connection, "receipts")
    again = f"; as many were booked in that day before, it is one row of {total:,} now" if total != pcs else ""
    return f"Received: {_in_words(line, pcs, came_on)}{again}{mends}."


def _in_words(line, pcs, came_on):
    more = line.brought_pcs + pcs - line.qty_pcs
    state = f"; with that {more:,} more than the {line.qty_pcs:,} ordered" if more > 0 else ""
    undated = "" if pd.isna(line.undated_pcs) else (
        f"; its line has {line.undated_pcs:,.0f} received on no day, which counted as still to come")
    return f"{bench.pieces_words(pcs)} of {line.part} from order {line.order_no} on {came_on}{state}{undated}"


def _refuse_closed(line):
    if pd.notna(line.closed_on):
        raise RecordsError(
            f"order {line.order_no}, {line.part}: the line is closed: {line.brought_pcs:,} of {line.qty_pcs:,} pieces "
            f"came{_closed(line)}. For a late delivery empty its received_on and received_pcs in order_lines.csv, "
            f"write every delivery of it into receipts.csv, and load. {NOTHING}")


def _check(line, pcs, came_on, terms):
    """Refuse more than was ordered, and a day on which it cannot have come."""
    if pcs > line.open_pcs and not terms.allows_more:
        raise RecordsError(
            f"order {line.order_no}, {line.part}: {bench.pieces_words(pcs)} came; wanted at most the {line.open_pcs:,} "
            f"still to come of {line.qty_pcs:,} ordered, in single pieces, not packs. If more really came, say so: "
            f"--allow-more, or the tick in the form. {NOTHING}")
    ordered_on = pd.Timestamp(line.ordered_on).date()
    if came_on < ordered_on:
        raise RecordsError(f"received_on is {came_on}; order {line.order_no} was sent on {ordered_on}: wanted that day "
                           f"or a later one. {NOTHING}")
    if terms.latest is not None and came_on > terms.latest:
        raise RecordsError(f"received_on is {came_on}; wanted no day after today, {terms.latest}. {NOTHING}")


def _days(connection, received_on, today):
    """The day of a delivery, and the last one it may be."""
    settings = read.settings(connection)
    fixed = None if "today" in settings.defaulted else settings.today
    return received_on or fixed or today, max((day for day in (fixed, today) if day), default=None)


def _closed(line):
    return "" if pd.isna(line.closed_on) else f" on {pd.Timestamp(line.closed_on).date()}"


def _or_so(connection, text, names):
    """Names that look like a text, as the end of a sentence."""
    meant = near.nearest(connection, [str(text)], names).get(str(text), [])
    listed = " or ".join(filter(None, [", ".join(meant[:-1]), *meant[-1:]]))
    return f"; did you mean {listed}?" if listed else "."
