"""The part of the scope page on hours: what a job takes, by scope and by stage, and how far past quotes were off."""

from functools import cached_property

from pipeline.reports.charts import scope as charts
from pipeline.reports.tables import Table
from pipeline.reports.topics.missing import AGAIN, note, or_note

_OUTLOOK = ("job_type", "jobs_seen", "median_hours", "mean_hours", "q80_hours", "contingency_hours", "quote_bias",
            "quote_bias_low", "quote_bias_high", "quotes_seen")
_STAGES = ("scope_name", "stage", "jobs_seen", "mean_hours", "share", "share_low", "share_high")


class Hours:
    """Hours to quote.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    outlook, stages : pandas.DataFrame
        Output tables ``job_hours_outlook`` and ``stage_hours``.
    """

    def __init__(self, shop, outlook, stages):
        self._shop, self._outlook, self._stages = shop, outlook, stages

    @cached_property
    def chart(self):
        """Median, mean and the figure that eight jobs in ten stay under."""
        known = self._outlook.dropna(subset=["mean_hours"])
        return or_note(
            self._shop.named(known), charts.hours_outlook, note(self._shop, "Hours per job", "job_hours.csv"))

    @cached_property
    def by_scope(self):
        """Hours a job takes by family and scope, and how far past quotes were off."""
        words = {"job_type": "kind of job", "q80_hours": "8 jobs in 10 stay under, hours",
                 "contingency_hours": "to hold back beyond the mean, hours"}
        return or_note(
            self._shop.named(self._outlook),
            lambda frame: Table(frame[list(_OUTLOOK)], "Hours per job; quote bias is actual over quoted, with its 80 % "
                                "interval", headings=words),
            AGAIN,
        )

    @cached_property
    def by_stage(self):
        """Where the hours go, all families together."""
        of_all = self._stages[self._stages["family"].isna()]
        told = "Where a job's hours go, all families; 80 % intervals" + (
            "" if (of_all["jobs_seen"] > 0).any() else "; no stage was ever written, so all of it is from memory")
        words = {"scope_name": "scope", "share_low": "share, low", "share_high": "share, high"}
        return or_note(
            self._shop.named(of_all.drop(columns="family")),
            lambda frame: Table(frame[list(_STAGES)], told, headings=words),
            AGAIN,
        )
