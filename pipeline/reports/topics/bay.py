"""The part of the shelf page on the bay: which jobs wait for parts, and until when."""

from functools import cached_property

from pipeline.decisions import bay_calendar
from pipeline.reports.charts import shelf as charts
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import or_note

_CALENDAR_COLUMNS = ["job_name", "planned_on", "short_parts", "short_pcs", "waits_for", "ready_on", "wait_days"]


class Bay:
    """Jobs on the bench and on the books.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    table : callable
        Takes the name of an output table, returns its frame.
    rows : int
        Most jobs to draw.
    """

    def __init__(self, shop, table, rows):
        self._shop, self._table, self._rows = shop, table, rows

    @cached_property
    def jobs(self):
        """Jobs on the bench and on the books, and what they wait for."""
        return or_note(
            self._jobs,
            lambda frame: Table(
                frame[_CALENDAR_COLUMNS],
                "Jobs on the bench and on the books, and the parts they wait for",
                headings={"job_name": "job", "planned_on": "start", "short_parts": "parts not there",
                          "short_pcs": "pieces not there", "waits_for": "waits for", "ready_on": "parts likely here",
                          "wait_days": "days of waiting"},
            ),
            Note("No job is on the bench or on the books."),
        )

    @cached_property
    def chart(self):
        """The same as a picture."""
        known = self._jobs.dropna(subset=["planned_on"]).head(self._rows)
        return or_note(
            known,
            lambda frame: charts.waiting_jobs(frame, self._shop.settings.today),
            Note("No job on the bench or on the books has a day."),
        )

    @cached_property
    def method(self):
        """How the days were reckoned."""
        return Note(bay_calendar.METHOD)

    @property
    def _jobs(self):
        return self._shop.named(self._table("bay_calendar")).assign(
            job_name=lambda frame: frame["job"] + ", " + frame["job_type"])
