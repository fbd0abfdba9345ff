"""The page on scope: a thorough rebuild beside fixing only what is broken."""

from functools import cached_property

from pipeline.decisions import cautions
from pipeline.reports.charts import scope as charts
from pipeline.reports.formats import is_unknown
from pipeline.reports.shop import scope_name
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import AGAIN, note, or_note

_FILES = ("assemblies.csv", "family_assemblies.csv", "assembly_parts.csv")
_OPTION_COLUMNS = [
    "option_name",
    "parts_amount",
    "bench_hours",
    "price_amount",
    "callback_share",
    "later_cost_amount",
    "shop_cost_amount",
    "shop_cost_low_amount",
    "shop_cost_high_amount",
    "owner_cost_amount",
    "owner_cost_low_amount",
    "owner_cost_high_amount",
]
_LINE_COLUMNS = [
    "assembly",
    "part",
    "qty_pcs",
    "action",
    "now_amount",
    "failures_avoided",
    "break_even_failures",
    "why",
]


# What stands in a line's place where it is not about one part, or not inside one assembly.
OPENING, TOGETHER, ELSEWHERE = "opening it", "rare parts together", "no assembly"
METHOD = (
    "The two ends only: fixing what is broken, and thorough. A fuller method also searches the scope between them that "
    "is cheapest at a stated chance of a call-back. Costs are expected over what is believed of lives and of use; the "
    "range is that of the belief, without the luck of a single machine."
)


class Scope:
    """What the page on scope shows: one family or one job, fix-only beside thorough.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    table : callable
        Takes the name of an output table, returns its frame.
    family : str
        The family, or an empty text for the one with the most jobs.
    job : str
        A job with findings, or an empty text for a typical machine of the family.
    rows : int
        Most lines to draw.
    """

    def __init__(self, shop, table, family="", job="", rows=25):
        self._shop, self._rows, self._job = shop, rows, job
        self._all, self._outlook = table("scope_options"), table("job_hours_outlook")
        self._subject = f"job:{job}" if job else f"family:{family or self._busiest()}"
        lines = table("scope_lines")
        self._lines = lines[lines["subject"] == self._subject]
        self._options = self._named(self._all[self._all["subject"] == self._subject])

    @property
    def headline(self):
        """Thorough beside fix-only for both purses, call-backs counted."""
        if self._all.empty:
            return "No job and no family is on record yet, so there is no machine to put thorough beside fix-only for."
        if not {"fix_only", "thorough"} <= set(self._options["option"]):
            return f"{self.subject}: the two options cannot be put side by side from these records."
        if self._options[["shop_cost_amount", "owner_cost_amount", "callback_share"]].isna().any(axis=None):
            return self._now_only()
        thorough, fix = (
            self._options[self._options["option"] == option].iloc[0] for option in ("thorough", "fix_only")
        )
        shop, owner = (
            " against ".join(self._shop.money(option[f"{purse}_cost_amount"]) for option in (thorough, fix))
            for purse in ("shop", "owner")
        )
        chances = " against ".join(f"{100 * option['callback_share']:.0f} %" for option in (thorough, fix))
        return (
            f"{self.subject}: thorough against fix-only costs the shop {shop} inside the warranty, "
            f"the machine's owner {owner} over five years; chance of a call-back {chances}."
        )

    def _now_only(self):
        price = {row.option: self._shop.money(row.price_amount) for row in self._options.itertuples()}
        absent = (
            " and ".join(file for file in _FILES if file in self._shop.unlocks) or "a list of parts by assembly"
        )
        return (
            f"{self.subject}: the work now would be priced at {price['thorough']} thorough and "
            f"{price['fix_only']} fix-only; what comes back later is unknown without {absent}."
        )

    @property
    def subject(self):
        """Which machine this is about, in words."""
        kind, _, name = self._subject.partition(":")
        return f"Job {name}" if kind == "job" else f"A typical {self._shop.family_name(name)} machine"

    @cached_property
    def options(self):
        """The options side by side."""
        return or_note(
            self._options,
            lambda frame: Table(
                frame[_OPTION_COLUMNS],
                f"{self.subject}: the options side by side",
                self._shop.currency,
                {"option_name": "option", "callback_share": "chance of a call-back"},
            ),
            AGAIN,
        )

    @cached_property
    def options_chart(self):
        """The same as a picture, for two purses."""
        known = self._options.dropna(subset=["shop_cost_amount", "owner_cost_amount"])
        return or_note(
            known, lambda frame: charts.costs_side_by_side(frame, self._shop.currency), self._nothing
        )

    @cached_property
    def lines(self):
        """Every line of the thorough option with its break-even."""
        return or_note(
            self._in_words(self._thorough_lines),
            lambda frame: Table(
                frame[_LINE_COLUMNS],
                f"{self.subject}, thorough: every line, and when replacing now pays",
                self._shop.currency,
            ),
            AGAIN,
        )

    @cached_property
    def lines_chart(self):
        """The lines that avoid most failures, beside their break-even, the best bargain first."""
        known = self._thorough_lines.query("failures_avoided > 0 and break_even_failures > 0")
        frame = self._in_words(known.nlargest(self._rows, "failures_avoided"))
        ratio = frame["failures_avoided"] / frame["break_even_failures"]
        places = zip(frame["part"], frame["assembly"], strict=True)
        label = [f"{part}, {place}"[:44] for part, place in places]
        frame = frame.assign(part_name=label, ratio=ratio).sort_values("ratio", ascending=False)
        return or_note(frame, charts.break_even_lines, self._nothing)

    @cached_property
    def method(self):
        """How the options were worked out, and what a fuller method would add."""
        return Note(METHOD)

    @cached_property
    def cautions(self):
        """The fixed safety notice."""
        return Table(cautions.cautions(), cautions.INTRODUCTION, is_whole=True)

    @cached_property
    def every_subject(self):
        """All families, and all jobs with findings, at a glance."""
        machines = [self._subject_name(subject) for subject in self._all["subject"]]
        frame = self._named(self._all).assign(machine=machines)
        columns = [
            "machine",
            "option_name",
            "price_amount",
            "callback_share",
            "shop_cost_amount",
            "owner_cost_amount",
        ]
        return or_note(
            frame,
            lambda rows: Table(
                rows[columns],
                "Every family, and every open job with findings",
                self._shop.currency,
                {"option_name": "option", "callback_share": "chance of a call-back"},
            ),
            AGAIN,
        )

    @cached_property
    def hours(self):
        """Hours a job takes by family and scope, and how far past quotes were off."""
        columns = [
            "job_type",
            "jobs_seen",
            "median_hours",
            "mean_hours",
            "q80_hours",
            "quote_bias",
            "quote_bias_low",
            "quote_bias_high",
        ]
        return or_note(
            self._shop.named(self._outlook),
            lambda frame: Table(
                frame[columns],
                "Hours per job; quote bias is actual over quoted",
                headings={"job_type": "kind of job", "q80_hours": "8 jobs in 10 stay under, hours"},
            ),
            AGAIN,
        )

    @cached_property
    def hours_chart(self):
        """The same as a picture."""
        known = self._outlook.dropna(subset=["mean_hours"])
        return or_note(
            self._shop.named(known), charts.hours_outlook, note(self._shop, "Hours per job", "job_hours.csv")
        )

    @property
    def _thorough_lines(self):
        lines = self._lines[self._lines["option"] == "thorough"]
        return lines.sort_values(["assembly", "part"])

    @property
    def _nothing(self):
        return note(self._shop, "Thorough beside fix-only", *_FILES)

    def _in_words(self, lines):
        names = self._shop.assemblies
        parts = [
            (OPENING if action == "open" else TOGETHER) if is_unknown(part) else part
            for part, action in zip(lines["part"], lines["action"], strict=True)
        ]
        places = [ELSEWHERE if is_unknown(place) else names.get(place, place) for place in lines["assembly"]]
        return lines.assign(part=parts, assembly=places)

    def _named(self, options):
        return options.assign(option_name=[scope_name(option).capitalize() for option in options["option"]])

    def _subject_name(self, subject):
        kind, _, name = subject.partition(":")
        return f"job {name}" if kind == "job" else self._shop.family_name(name)

    def _busiest(self):
        known = set(self._all["subject"])
        ranked = self._shop.query(
            "select family from tidy_jobs group by family order by count(*) desc, family"
        )["family"]
        return next((family for family in ranked if f"family:{family}" in known), next(iter(ranked), ""))
