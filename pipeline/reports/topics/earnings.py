"""The page on earnings: what each job earned per hour, and why."""

from functools import cached_property

import pandas as pd

from pipeline.kernels.group_intervals import median_interval
from pipeline.reports.charts import earnings as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Table
from pipeline.reports.topics.missing import AGAIN, note, or_note

GROUP_LEVEL = 0.9
_MONEY = [
    "invoiced_amount",
    "parts_amount",
    "labour_amount",
    "overhead_amount",
    "other_amount",
    "callback_amount",
    "margin_amount",
]
_JOB_COLUMNS = ["job", "family_name", "scope", *_MONEY, "margin_share", "hours", "margin_per_hour"]
_FILES = ("job_hours.csv", "orders.csv", "order_lines.csv", "job_costs.csv")


class Earnings:
    """What the page on earnings shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    table : callable
        Takes the name of an output table, returns its frame.
    family : str
        One family, or an empty text for all.
    rows : int
        Most variances to draw.
    """

    def __init__(self, shop, table, family="", rows=20):
        self._shop, self._rows = shop, rows
        margins, self._variances = table("job_margins"), table("variances")
        margins = margins[margins["family"] == family] if family else margins
        if family:
            self._variances = self._variances[self._variances["job"].isin(margins["job"])]
        self._margins = shop.named(margins)
        self._known = self._margins.dropna(subset=["margin_per_hour"])

    @property
    def headline(self):
        """The middle job's margin per hour, the jobs that lost money, and the best and worst group."""
        if not len(self._known):
            return "What a job earned per hour is unknown: no delivered job has both an invoice and hours on record."
        found = median_interval(self._known["margin_per_hour"], level=GROUP_LEVEL)
        *values, coverage, count = (figure[0] for figure in found)
        median, low, high = map(self._shop.money, values)
        lost = count_of(int((self._known["margin_amount"] < 0).sum()), "job")
        return (
            f"The middle one of {count_of(int(count), 'job')} earned {median} per hour "
            f"({100 * coverage:.0f} % interval {low} to {high}); {lost} lost money. {self._extremes()}"
        ).strip()

    @cached_property
    def groups(self):
        """Median margin per hour by family and scope, with an interval and its true coverage."""
        headings = {
            "job_type": "kind of job",
            "low_per_hour": f"low, {self._shop.currency} per hour",
            "high_per_hour": f"high, {self._shop.currency} per hour",
        }
        return or_note(
            self._grouped("job_type"),
            lambda frame: Table(
                frame,
                "Margin per clock hour by kind of job: the middle job, and an interval for it",
                self._shop.currency,
                headings,
            ),
            self._nothing,
        )

    @cached_property
    def per_hour_chart(self):
        """Every job's margin per hour, by family."""
        return or_note(
            self._known,
            lambda frame: charts.margin_per_hour(frame, self._grouped("family_name"), self._shop.currency),
            AGAIN,
        )

    @cached_property
    def money_chart(self):
        """Where the invoiced money went, by scope."""
        whole = self._margins.dropna(subset=_MONEY)
        means = (
            whole.assign(**{column: whole[column].astype(float) for column in _MONEY})
            .groupby("scope_name", as_index=False)[_MONEY]
            .mean()
        )
        return or_note(means, lambda frame: charts.where_money_went(frame, self._shop.currency), AGAIN)

    @cached_property
    def variances_chart(self):
        """The largest differences between quoted and actual."""
        frame = self._largest.head(self._rows)
        kinds = frame["kind"].str.replace("_", " ")
        return or_note(
            frame.assign(label=frame["job"] + ", " + kinds),
            lambda rows: charts.largest_variances(rows, self._shop.currency),
            self._no_variances,
        )

    @cached_property
    def variances(self):
        """Every difference between quoted and actual, the largest first."""
        return or_note(
            self._largest,
            lambda frame: Table(
                frame,
                "Quoted to actual, the largest difference first; a positive one took from the margin",
                self._shop.currency,
            ),
            AGAIN,
        )

    @cached_property
    def jobs(self):
        """Every job, the latest delivered first where the records say."""
        return or_note(
            self._margins,
            lambda frame: Table(
                frame[_JOB_COLUMNS],
                "Every delivered job: what was invoiced, what it cost, what it left",
                self._shop.currency,
                {"family_name": "family"},
            ),
            AGAIN,
        )

    def _grouped(self, column):
        names = pd.unique(self._known[column])
        place = self._known[column].map(pd.Series(range(len(names)), index=names))
        median, low, high, coverage, count = median_interval(
            self._known["margin_per_hour"], place, len(names), GROUP_LEVEL
        )
        frame = pd.DataFrame(
            {
                column: names,
                "jobs": count,
                "median_per_hour": median,
                "low_per_hour": low,
                "high_per_hour": high,
                "coverage_share": coverage,
            }
        )
        return frame.sort_values("median_per_hour", ascending=False, ignore_index=True)

    def _extremes(self):
        groups = self._grouped("family_name")
        if len(groups) < 2:
            return ""
        best, worst = groups.iloc[0], groups.iloc[-1]
        return f"{self._said(best)} earned most, {self._said(worst)} least."

    def _said(self, group):
        median, jobs = self._shop.money(group["median_per_hour"]), count_of(int(group["jobs"]), "job")
        return f"{group['family_name']} ({median} over {jobs})"

    @property
    def _largest(self):
        size = self._variances["variance_amount"].astype(float).abs()
        return self._variances.assign(_size=size).sort_values("_size", ascending=False).drop(columns="_size")

    @property
    def _nothing(self):
        return note(self._shop, "What jobs earned", *_FILES)

    @property
    def _no_variances(self):
        return note(self._shop, "Quoted to actual", "quote_lines.csv", *_FILES)
