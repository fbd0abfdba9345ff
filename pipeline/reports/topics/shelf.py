"""The page on the shelf: what to order today, and from whom."""

from functools import cached_property

from pipeline.decisions import bay_calendar, idle_stock, job_ready, order_plan
from pipeline.reports import order_files
from pipeline.reports.charts import shelf as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import AGAIN, note, or_note

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


_CALENDAR_COLUMNS = ["job_name", "planned_on", "short_parts", "short_pcs", "waits_for", "ready_on", "wait_days"]
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
        self._ready, self._times = table("job_ready"), table("lead_times")
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
            return f"Nothing needs ordering today. {self._readiness}".strip()
        if not len(self._baskets):
            return (
                f"{count_of(len(lines), 'part is', 'parts are')} due, but from whom and at what price is unknown. "
                f"{self._readiness}"
            ).strip()
        total, freight = (
            self._shop.money(self._baskets[column].sum()) for column in ("total_amount", "freight_amount")
        )
        vendors = count_of(lines["vendor"].dropna().nunique(), "vendor")
        unpriced = int(lines["vendor"].isna().sum())
        gap = f" {count_of(unpriced, 'part has', 'parts have')} no vendor on record." if unpriced else ""
        return (
            f"Order {count_of(len(lines), 'part')} from {vendors} today: {total}, of which freight {freight}.{gap} "
            f"{self._readiness}"
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

    @cached_property
    def ready(self):
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
    def ready_chart(self):
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
    def ready_method(self):
        """How the shares were worked out."""
        return Note(job_ready.METHOD)

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
    def calendar(self):
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
    def calendar_chart(self):
        """The same as a picture."""
        known = self._jobs.dropna(subset=["planned_on"]).head(self._rows)
        return or_note(
            known,
            lambda frame: charts.waiting_jobs(frame, self._shop.settings.today),
            Note("No job on the bench or on the books has a day."),
        )

    @cached_property
    def calendar_method(self):
        """How the days were reckoned."""
        return Note(bay_calendar.METHOD)

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
    def _jobs(self):
        return self._shop.named(self._table("bay_calendar")).assign(
            job_name=lambda frame: frame["job"] + ", " + frame["job_type"])

    @property
    def _readiness(self):
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

    @property
    def _no_orders(self):
        return note(self._shop, "Orders", "counts.csv", "offers.csv", "vendors.csv")

    @property
    def _no_shares(self):
        return note(self._shop, "The share of jobs that can start at once", "counts.csv")

    def _described(self, frame):
        return frame.assign(description=frame["part"].map(self._shop.parts))
