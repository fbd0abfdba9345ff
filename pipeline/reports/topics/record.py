"""The page for recording: a part taken for a job, or a count of a bin."""

import datetime
from functools import cached_property

from pipeline.reports import widgets
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Table
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
        taken, counted = (int((self._rows["record"] == kind).sum()) for kind in ("taken", "counted"))
        return (
            f"Recorded here so far: {count_of(taken, 'taking')} and {count_of(counted, 'count')}. "
            f"{count_of(len(self._open_jobs), 'job is', 'jobs are')} open at the bench."
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

    @cached_property
    def _open_jobs(self):
        return self._shop.query(
            "select job from tidy_jobs where status in ('in_progress', 'booked') order by job"
        )["job"].tolist()
