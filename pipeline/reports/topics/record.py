"""The page for recording: a part taken for a job, a count of a bin, or a delivery of an order."""

import datetime
from functools import cached_property

from pipeline.errors import RecordsError
from pipeline.reports import widgets
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import note, or_note

_SOURCES = [
    ("new, from the shelf", "new"),
    ("salvage", "salvage"),
    ("made here", "made"),
    ("the customer's own", "customer"),
]
_REASONS = [
    ("not said", None),
    ("it had failed", "failed"),
    ("replaced by policy", "policy"),
    ("came along with another", "companion"),
    ("broken in the work", "broken_in_work"),
    ("fitted, did not cure", "no_cure"),
    ("upgrade", "upgrade"),
    ("call-back", "callback"),
]


class Record:
    """What the page for recording shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store to write to.
    """

    def __init__(self, shop):
        self._shop = shop
        self._rows = shop.query("from recorded_at_bench")

    @property
    def headline(self):
        """What has been recorded here so far."""
        taken, counted, received = (
            int((self._rows["record"] == kind).sum()) for kind in ("taken", "counted", "received")
        )
        return (
            f"Recorded here so far: {count_of(taken, 'taking')}, {count_of(counted, 'count')} and "
            f"{count_of(received, 'delivery', 'deliveries')}. "
            f"{count_of(len(self._open_jobs), 'job is', 'jobs are')} open at the bench, "
            f"{count_of(len(self._open_orders), 'order is', 'orders are')} still to come."
        )

    @cached_property
    def taken_form(self):
        """Form for a part taken for a job."""
        fields = {
            "job": widgets.known_field("Job", self._open_jobs, "job number"),
            "part": self._part_field(),
            "qty_pcs": widgets.text_field("Pieces", "whole number; negative = back to the shelf"),
            "used_on": self._day_field(),
            "source": widgets.choice_field("Source", _SOURCES),
            "reason": widgets.choice_field("Reason", _REASONS),
        }
        return widgets.form(fields, "Record the taking", self._take)

    @cached_property
    def count_form(self):
        """Form for a count of one part."""
        fields = {
            "part": self._part_field(),
            "qty_pcs": widgets.text_field("Pieces found", "whole number; 0 if the bin is empty"),
            "counted_on": self._day_field(),
        }
        return widgets.form(fields, "Record the count", self._count)

    @cached_property
    def delivery_form(self):
        """Form for a delivery of an order that is still to come, whole or in part."""
        if not self._open_orders:
            return Note("No order is still to come: orders.csv and order_lines.csv bring orders in.")
        fixed = {
            "received_on": self._day_field(),
            "is_whole": widgets.tick_field("everything of it that was still to come is here"),
            "allows_more": widgets.tick_field("more came than was ordered"),
        }
        choice = widgets.choice_field("Order", self._open_orders)
        return widgets.choosing_form(choice, self._line_fields, fixed, "Record the delivery", self._receive)

    def _line_fields(self, order_no):
        lines = self._shop.query(
            "select part, qty_pcs, open_pcs from order_states where order_no = ? and open_pcs > 0", [order_no]
        )
        return {
            line.part: widgets.text_field(line.part, f"{line.open_pcs} still to come of {line.qty_pcs}")
            for line in lines.itertuples()
        }

    def _part_field(self):
        return widgets.known_field("Part", list(self._shop.parts), "part, or another spelling of it")

    def _day_field(self):
        return widgets.text_field("Day", "2025-03-09", datetime.date.today().isoformat())

    @cached_property
    def recorded(self):
        """Everything recorded here, the latest first."""
        return or_note(
            self._rows,
            lambda frame: Table(frame, "Recorded here, the latest first"),
            note(self._shop, "What was recorded here"),
        )

    def _take(self, **row):
        from pipeline.ingest import bench

        return bench.record_use(self._shop.path, **row)

    def _count(self, **row):
        from pipeline.ingest import bench

        return bench.record_count(self._shop.path, **row)

    def _receive(self, order_no, typed, received_on, is_whole, allows_more):
        from pipeline.ingest import deliveries

        pieces = [(part, text) for part, text in typed.items() if text.strip()]
        if is_whole and pieces:
            raise RecordsError(
                "Pieces are typed, and the tick says that everything came: leave one of the two out. "
                "Nothing was recorded."
            )
        came = None if is_whole else pieces
        received = deliveries.receive(
            self._shop.path, order_no, received_on, came, datetime.date.today(), allows_more
        )
        return " ".join(received.lines())

    @cached_property
    def _open_orders(self):
        orders = self._shop.query(
            "select distinct order_no, vendor, ordered_on from order_states where open_pcs > 0"
            " order by ordered_on, order_no"
        )
        days = orders["ordered_on"].dt.strftime("%Y-%m-%d")
        words = orders["order_no"] + ", " + orders["vendor"] + ", " + days
        return list(zip(words, orders["order_no"], strict=True))

    @cached_property
    def _open_jobs(self):
        return self._shop.query(
            "select job from tidy_jobs where status in ('in_progress', 'booked') order by job"
        )["job"].tolist()
