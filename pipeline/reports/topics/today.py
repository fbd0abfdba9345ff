"""The page of the day: what needs attention, the most pressing first."""

from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from pipeline.decisions import count_list, pick_list
from pipeline.models import job_needs
from pipeline.reports import order_files
from pipeline.reports.charts import today as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import note, or_note

NOTHING = Note("Nothing waits that the records know of.")
_KINDS = {
    "job waits for parts": ("job waits for parts", "jobs wait for parts"),
    "promised day passed": ("promised day has passed", "promised days have passed"),
    "order due": ("order is due", "orders are due"),
    "delivery late": ("delivery is late", "deliveries are late"),
    "stock in doubt": ("stock figure is in doubt", "stock figures are in doubt"),
    "quote out of line": ("vendor's quote is out of line", "vendors' quotes are out of line"),
}
_PICK_COLUMNS = [
    "job",
    "part",
    "description",
    "need_pcs",
    "on_shelf_pcs",
    "shelf",
    "short_pcs",
    "coming_pcs",
    "order_by_on",
    "needed_by",
]
_STAND_IN_COLUMNS = ["substitute", "substitute_shelf", "condition"]


@dataclass(frozen=True)
class TodaysWork:
    """What is to be fetched, counted and sent.

    Parameters
    ----------
    picks : pandas.DataFrame
        Lines of :class:`pipeline.decisions.pick_list.PickList`.
    counts : pandas.DataFrame
        Table ``count_list``.
    vendors : tuple of str
        Vendors ordered from today.
    """

    picks: pd.DataFrame
    counts: pd.DataFrame
    vendors: tuple


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
    work : TodaysWork, optional
        What is to be fetched, counted and sent; asked for where it is shown.
    """

    def __init__(self, shop, attention, rows=20, work=None):
        self._shop, self._attention, self._rows, self._work = shop, attention, rows, work

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

    @cached_property
    def order_files(self):
        """Where the order of each vendor lies, to send and to print."""
        return order_files.links(self._shop, self._work.vendors)

    @cached_property
    def picks(self):
        """What to fetch for each running and booked job."""
        frame = self._work.picks
        notes = [_pick_note(line) for line in frame.itertuples()]
        frame = frame.assign(description=frame["part"].map(self._shop.parts), needed_by=notes)
        columns = list(_PICK_COLUMNS)
        if frame["substitute"].notna().any():  # in place of the description: the table is as wide as the page
            columns = [*(name for name in columns if name != "description"), *_STAND_IN_COLUMNS]
        return or_note(
            frame,
            lambda lines: Table(
                lines[columns],
                "What to fetch for each job, the job planned first on top",
                headings={"coming_pcs": "on order, pieces", "on_shelf_pcs": "there for it, pieces",
                          "needed_by": "needed by", "substitute_shelf": "its shelf", "condition": "if"},
                dash="unknown, or nothing to say",
            ),
            Note("No job is running or booked, so there is nothing to fetch."),
        )

    @cached_property
    def pick_method(self):
        """What the list of parts to fetch rests on."""
        return Note(pick_list.METHOD)

    @cached_property
    def counts(self):
        """Bins worth counting."""
        currency = self._shop.currency
        return or_note(
            self._work.counts,
            lambda frame: Table(
                frame, "Bins worth counting this week", currency, {"worth_amount": f"worth, {currency}"}
            ),
            Note("No bin is in doubt, and no dear one was left uncounted for a year.")
            if "counts.csv" not in self._shop.unlocks
            else note(self._shop, "Bins to count", "counts.csv"),
        )

    @cached_property
    def count_method(self):
        """What makes a bin worth counting."""
        return Note(count_list.METHOD)


def _pick_note(line):
    """Where the need is known from, in words."""
    if isinstance(line.with_part, str):
        return f"comes with {line.with_part}"
    if line.known_from == job_needs.EXPECTED:
        return f"expected, {line.chance_share:.0%}"
    return line.known_from
