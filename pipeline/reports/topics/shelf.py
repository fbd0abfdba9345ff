"""The page on the shelf: what to order today, and from whom."""

from functools import cached_property

from pipeline.decisions import idle_stock, order_plan
from pipeline.reports import order_files
from pipeline.reports.charts import shelf as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.bay import Bay
from pipeline.reports.topics.missing import AGAIN, note, or_note
from pipeline.reports.topics.readiness import Readiness

_ORDER_COLUMNS = [
    "vendor",
    "vendor_part",
    "part",
    "description",
    "order_pcs",
    "packs",
    "unit_price",
    "line_amount",
    "why",
]
_POSITION_COLUMNS = [
    "part",
    "description",
    "shelf_rule",
    "on_hand_pcs",
    "on_order_pcs",
    "committed_pcs",
    "reorder_point_pcs",
    "order_up_to_pcs",
    "order_pcs",
    "why",
]
_IDLE_COLUMNS = ["part", "description", "on_hand_pcs", "likely_use_12m_pcs", "idle_pcs", "idle_amount"]


_RULES = {
    "by_the_job": "hold by the job",
    "one_or_two": "hold one or two",
    "when_seen": "buy when seen",
    "not_stocked": "do not stock",
}


class Shelf:
    """What the page on the shelf shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    table : callable
        Takes the name of an output table, returns its frame.
    vendor : str
        One vendor, or an empty text for all.
    rows : int
        Most parts to draw.
    notes : tuple of str
        What the plan assumed or was held to, in words.
    """

    def __init__(self, shop, table, vendor="", rows=30, notes=()):
        self._shop, self._vendor, self._rows, self._notes = shop, vendor, rows, notes
        self._plan, self._baskets = table("order_plan"), table("baskets")
        self._times = table("lead_times")
        self._table = table
        if vendor:
            self._baskets = self._baskets[self._baskets["vendor"] == vendor]
            self._times = self._times[self._times["vendor"] == vendor]

    @property
    def headline(self):
        """How much to order from whom, and what it does for the jobs to come."""
        lines = self._lines
        if not len(lines) and len(self._plan) and self._plan["order_pcs"].isna().all():
            return "What to order is unknown: nothing on the shelf was ever counted; counts.csv unlocks it."
        if not len(lines):
            return f"Nothing needs ordering today. {self.readiness.headline}".strip()
        if not len(self._baskets):
            return (
                f"{count_of(len(lines), 'part is', 'parts are')} due, but from whom and at what price is unknown. "
                f"{self.readiness.headline}"
            ).strip()
        total, freight = (
            self._shop.money(self._baskets[column].sum()) for column in ("total_amount", "freight_amount")
        )
        vendors = count_of(lines["vendor"].dropna().nunique(), "vendor")
        unpriced = int(lines["vendor"].isna().sum())
        gap = f" {count_of(unpriced, 'part has', 'parts have')} no vendor on record." if unpriced else ""
        return (
            f"Order {count_of(len(lines), 'part')} from {vendors} today: {total}, of which freight {freight}.{gap} "
            f"{self.readiness.headline}"
        ).strip()

    @cached_property
    def baskets(self):
        """What each vendor's basket costs."""
        return or_note(
            self._baskets,
            lambda frame: Table(frame, "Today's baskets", self._shop.currency),
            note(self._shop, "Baskets by vendor", "vendors.csv", "offers.csv"),
        )

    @cached_property
    def baskets_chart(self):
        """The same as a picture."""
        return or_note(self._baskets, lambda frame: charts.baskets_by_vendor(frame, self._shop.currency), AGAIN)

    @cached_property
    def orders(self):
        """Every line to order, by vendor, with its reason."""
        return or_note(
            self._described(self._lines),
            lambda frame: Table(
                frame[_ORDER_COLUMNS],
                "Order today",
                self._shop.currency,
                {"unit_price": f"a piece, {self._shop.currency}"},
            ),
            self._no_orders,
        )

    @cached_property
    def order_files(self):
        """Where the order of each vendor lies, to send and to print."""
        return order_files.links(self._shop, self._baskets["vendor"])

    @cached_property
    def stock_chart(self):
        """The parts to order, against their reorder points."""
        frame = self._lines.dropna(subset=["order_up_to_pcs"]).head(self._rows)
        return or_note(self._shop.named(frame), charts.stock_against_reorder_point, self._no_orders)

    @cached_property
    def positions(self):
        """Every part's position and rule."""
        return or_note(
            self._described(self._plan),
            lambda frame: Table(frame[_POSITION_COLUMNS], "Every part: what is there, what is due, and why"),
            AGAIN,
        )

    @property
    def readiness(self):
        """Whether jobs find their parts (:class:`pipeline.reports.topics.readiness.Readiness`)."""
        return self._readiness

    @property
    def bay(self):
        """Which jobs wait, and for what (:class:`pipeline.reports.topics.bay.Bay`)."""
        return Bay(self._shop, self._table, self._rows)

    @cached_property
    def _readiness(self):
        return Readiness(self._shop, self._table)

    @cached_property
    def shelves(self):
        """The four shelves: how many parts stand on each, and what lies there."""
        frame = self._plan[self._plan["shelf_rule"].notna()]
        frame = frame.assign(is_due=frame["order_pcs"].fillna(0) > 0)
        by_rule = frame.groupby("shelf_rule").agg(
            parts=("part", "nunique"), on_hand_pcs=("on_hand_pcs", lambda pcs: pcs.clip(lower=0).sum()),
            due_parts=("is_due", "sum"))
        by_rule = by_rule.reindex([rule for rule in _RULES if rule in by_rule.index]).reset_index()
        by_rule = by_rule.assign(shelf=by_rule["shelf_rule"].map(_RULES))
        return or_note(
            by_rule,
            lambda frame: Table(
                frame[["shelf", "parts", "on_hand_pcs", "due_parts"]],
                "Four shelves",
                headings={"due_parts": "parts to order today"},
            ),
            AGAIN,
        )

    @cached_property
    def idle(self):
        """Pieces beyond a year's likely use."""
        currency = self._shop.currency
        return or_note(
            self._described(self._table("idle_stock")),
            lambda frame: Table(
                frame[_IDLE_COLUMNS],
                "Pieces beyond a year's likely use, the dearest first",
                currency,
                {"idle_amount": f"tied up, {currency}"},
            ),
            note(self._shop, "Idle stock", "counts.csv"),
        )

    @cached_property
    def idle_method(self):
        """What counts as idle."""
        return Note(idle_stock.METHOD)

    @cached_property
    def lead_times(self):
        """How long each vendor takes."""
        return or_note(self._times, lambda frame: Table(frame, "Days from order to receipt, by vendor"), AGAIN)

    @cached_property
    def lead_times_chart(self):
        """The same as a picture."""
        return or_note(
            self._times.dropna(subset=["mean_days"]),
            charts.lead_times,
            note(self._shop, "Lead times", "vendors.csv", "orders.csv", "order_lines.csv"),
        )

    @cached_property
    def method(self):
        """How the plan was worked out, and what a fuller method would add."""
        said = (f"{note[:1].upper()}{note[1:].rstrip('.')}." for note in self._notes)
        return Note(" ".join((order_plan.METHOD, *said)))

    @cached_property
    def missing(self):
        """What the plan does without."""
        files = [
            file
            for file in ("counts.csv", "orders.csv", "order_lines.csv", "offers.csv", "vendors.csv")
            if file in self._shop.unlocks
        ]
        return (
            note(self._shop, "Part of the plan", *files)
            if files
            else Note(
                "Counts, orders, offers and vendors are all on record: nothing in this plan stands in for them."
            )
        )

    @property
    def _lines(self):
        due = self._plan[self._plan["order_pcs"].fillna(0) > 0]
        due = due[due["vendor"] == self._vendor] if self._vendor else due
        return due.sort_values(["vendor", "line_amount"], ascending=[True, False], na_position="last")

    @property
    def _no_orders(self):
        return note(self._shop, "Orders", "counts.csv", "offers.csv", "vendors.csv")

    def _described(self, frame):
        return frame.assign(description=frame["part"].map(self._shop.parts))
