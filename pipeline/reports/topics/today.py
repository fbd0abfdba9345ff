"""The page of the day: what needs attention, the most pressing first."""

from functools import cached_property

from pipeline.reports.charts import today as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import or_note

NOTHING = Note("Nothing waits that the records know of.")
_KINDS = {
    "job waits for parts": ("job waits for parts", "jobs wait for parts"),
    "promised day passed": ("promised day has passed", "promised days have passed"),
    "order due": ("order is due", "orders are due"),
    "delivery late": ("delivery is late", "deliveries are late"),
    "stock in doubt": ("stock figure is in doubt", "stock figures are in doubt"),
    "quote out of line": ("vendor's quote is out of line", "vendors' quotes are out of line"),
}


class Today:
    """What the page of the day shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    attention : pandas.DataFrame
        What waits, the most pressing kind first, the dearest of each kind on top: rank, what, where, amount, days,
        what_to_do.
    rows : int
        Most lines to draw.
    """

    def __init__(self, shop, attention, rows=20):
        self._shop, self._attention, self._rows = shop, attention, rows

    @property
    def headline(self):
        """How much waits, of which kind, and what comes first."""
        day = self._shop.settings.today
        if not len(self._attention):
            return f"On {day} nothing waits that the records know of."
        counts = self._attention["what"].value_counts(sort=False)
        said = ", ".join(
            count_of(int(number), *_KINDS.get(what, (what, what))) for what, number in counts.items()
        )
        first = self._attention.iloc[0]
        return f"On {day}: {said}. First: {first['where']}, {first['what']}: {first['what_to_do']}."

    @cached_property
    def attention(self):
        """Everything that waits, the dearest first."""
        currency = self._shop.currency
        return or_note(
            self._attention,
            lambda frame: Table(
                frame,
                "What waits, the most pressing kind first, the dearest of each kind on top",
                currency,
                {"amount": f"at stake, {currency}", "what_to_do": "what to do"},
                dash="not measured this way",
                is_whole=True,
            ),
            NOTHING,
        )

    @cached_property
    def days_chart(self):
        """How long jobs and deliveries have been waiting."""
        overdue = self._attention["what"].isin(charts.KINDS)
        frame = self._attention[overdue & (self._attention["days"] > 0)].head(self._rows)
        return or_note(frame, charts.days_waiting, Note("No job and no delivery is past its day."))
