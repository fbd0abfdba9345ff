"""The part of the shelf page on readiness: which jobs find every part they need, and what more cash would buy."""

from functools import cached_property

from pipeline.decisions import job_ready
from pipeline.reports.charts import shelf as charts
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import AGAIN, note, or_note


class Readiness:
    """Shares of jobs that start without waiting.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    table : callable
        Takes the name of an output table, returns its frame.
    """

    def __init__(self, shop, table):
        self._shop, self._table, self._ready = shop, table, table("job_ready")

    @property
    def headline(self):
        """How many of the coming jobs find every part, on today's shelf and under the plan."""
        known = self._ready.dropna(subset=["today_share", "planned_share", "expected_jobs"])
        jobs = known["expected_jobs"].sum()
        if not jobs:
            return ""
        today, planned = (
            100 * (known[column] * known["expected_jobs"]).sum() / jobs
            for column in ("today_share", "planned_share")
        )
        return (
            f"Of 100 coming jobs {today:.0f} find every part on today's shelf, "
            f"{planned:.0f} once the plan stands."
        )

    @cached_property
    def shares(self):
        """Chance that a job finds every part it needs."""
        columns = [
            "job_type",
            "expected_jobs",
            "today_share",
            "planned_share",
            "planned_low_share",
            "planned_high_share",
            "equal_share_rule_share",
            "worst_part",
        ]
        return or_note(
            self._shop.named(self._ready),
            lambda frame: Table(
                frame[columns],
                "Chance that no part is missing when a job needs it",
                headings={"job_type": "kind of job"},
            ),
            AGAIN,
        )

    @cached_property
    def shares_chart(self):
        """The same as a picture."""
        known = self._ready.dropna(subset=["planned_share"])
        return or_note(self._shop.named(known), charts.ready_shares, self._no_shares)

    @cached_property
    def curve(self):
        """What cash on the shelf buys."""
        return or_note(
            self._table("ready_curve"),
            lambda frame: charts.ready_curve(frame, self._shop.currency),
            self._no_shares,
        )

    @cached_property
    def stalling(self):
        """The parts whose absence stalls most jobs under the plan."""
        return or_note(
            self._described(self._table("stalling_parts")),
            lambda frame: Table(
                frame[["part", "description", "stalls_share", "alone_share", "stalled_jobs_12m"]],
                "Parts whose absence stalls most jobs under the plan",
                headings={"stalls_share": "jobs it stalls", "alone_share": "jobs it alone stalls",
                          "stalled_jobs_12m": "jobs a year"},
            ),
            Note("Under the plan no part is expected to stall a job."),
        )

    @cached_property
    def method(self):
        """How the shares were worked out."""
        return Note(job_ready.METHOD)

    @property
    def _no_shares(self):
        return note(self._shop, "The share of jobs that can start at once", "counts.csv")

    def _described(self, frame):
        return frame.assign(description=frame["part"].map(self._shop.parts))
