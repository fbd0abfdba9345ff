"""The page on scope: fixing only what is broken, a thorough rebuild, and the scope between them."""

from functools import cached_property

from pipeline.decisions import cautions, scope
from pipeline.decisions.scope_lines import LINE_COLUMNS
from pipeline.reports.charts import scope as charts
from pipeline.reports.formats import is_unknown
from pipeline.reports.shop import scope_name
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.hours import Hours
from pipeline.reports.topics.missing import AGAIN, note, or_note
from pipeline.reports.topics.scope_between import Between
from pipeline.reports.topics.scope_lives import lives_behind

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
_LINE_COLUMNS = LINE_COLUMNS[2:]  # subject and option stand in the caption


# What stands in a line's place where it is not about one part, or not inside one assembly.
OPENING, TOGETHER, ELSEWHERE = "opening it", "rare parts together", "no assembly"
_UNNAMED = {"open": OPENING, "start": "before any part"}
METHOD = (
    "Fixing only replaces what failed, with what comes along. Thorough is what such jobs of the shop replace, or "
    "what the teardown and the lists ask for. Between them every line may be kept, replaced whole, done as found "
    "(opened, and as many replaced as such jobs find bad), and cleaned, reconditioned or made where the assembly "
    "list names that; opening is paid once per assembly, what comes along is counted once. Recommended is the "
    "exact optimum: work now and expected call-backs over five years at the shop's own cost, at the chance of no "
    "call-back that is asked. Lives come from the call-backs noted, leaning on the owner's guess or the seed "
    "table, and each class ages by plays or by the calendar, as the shop's own calls make likely; a cleaned piece "
    "is taken to live a quarter of the way towards a new one and a reconditioned one half of it, at half and one "
    "and a half times the hours of replacing it (from memory, no source). Costs are expected over what is "
    "believed of lives and of use; the range is that of single machines, their luck included. Calls for which no "
    "part is to blame are counted inside the warranty, more of them the more is opened. The owner's purse is "
    "credited with the life that new pieces have left after five years."
)


class Scope:
    """What the page on scope shows: one family or one job under three options.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    table : callable
        Takes the name of an output table, returns its frame.
    made : pipeline.decisions.scope.Scopes
        All machines of the shop.
    family : str
        The family, or an empty text for the one with the most jobs.
    job : str
        A job with findings, or an empty text for a typical machine of the family.
    rows : int
        Most lines to draw.
    quiet_share : float
        Chance of no call-back inside the warranty asked of the recommended scope.

    Attributes
    ----------
    between : pipeline.reports.topics.scope_between.Between
        The recommended scope: its frontier, what goes in and what stays, and what if.
    hours : pipeline.reports.topics.hours.Hours
        Hours to quote, by scope and by stage.
    """

    def __init__(self, shop, table, made, family="", job="", rows=25, quiet_share=scope.QUIET_SHARE):
        self._shop, self._rows, self._table, self._made = shop, rows, table, made
        self._all = made.options
        self._subject = f"job:{job}" if job else f"family:{family or self._busiest()}"
        machine = made.machines.get(self._subject)
        self._machine = machine if machine is None or quiet_share == scope.QUIET_SHARE else machine.at(quiet_share)
        frames = (made.options, made.lines, made.frontiers, made.calls)
        if self._machine is machine:
            frames = (frame[frame["subject"] == self._subject] for frame in frames)
        else:
            frames = scope.of_machine(made.shop, self._machine, quiet_share)
        options, self._lines, self._frontier, self._calls = frames
        self._options = self._named(options)
        tables = self._options, self._in_words(self._lines), self._frontier
        self.between = Between(shop, made.shop, self._machine, made.machines, tables, quiet_share, self._nothing)
        self.hours = Hours(shop, table("job_hours_outlook"), table("stage_hours"))

    @property
    def headline(self):
        """The three options for both purses, call-backs counted."""
        if self._all.empty:
            return "No job and no family is on record yet, so there is no machine to put thorough beside fix-only for."
        if set(scope.OPTIONS) != set(self._options["option"]):
            return f"{self.subject}: the options cannot be put side by side from these records."
        if self._options[["shop_cost_amount", "owner_cost_amount", "callback_share"]].isna().any(axis=None):
            return self._now_only()
        shop, owner = (self._beside(f"{purse}_cost_amount", self._shop.money) for purse in ("shop", "owner"))
        chance = self._beside("callback_share", lambda share: f"{100 * share:.1f} %")
        return (
            f"{self.subject}: the recommended scope costs the shop {shop} inside the warranty, the machine's owner "
            f"{owner} over five years; chance of a call-back {chance}."
        )

    def _beside(self, column, words):
        """A figure of the recommended scope, with those of the two ends behind it."""
        middle, fix, thorough = (words(self._options.set_index("option").loc[option, column])
                                 for option in ("recommended", "fix_only", "thorough"))
        return f"{middle} (fix-only {fix}, thorough {thorough})"

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
    def calls(self):
        """How often the machine comes back under each option."""
        named = self._named(self._calls.dropna(subset=["none_share"]))
        years = [f"{days / 365.25:.0f} years" if days > 400 else f"{days:.0f} days" for days in named["horizon_days"]]
        words = {"option_name": "option", "within": "call-backs within", "none_share": "none", "one_share": "one",
                 "two_share": "two", "more_share": "three or more"}
        return or_note(
            named.assign(within=years).sort_values("horizon_days", kind="stable"),
            lambda frame: Table(frame[list(words)], f"{self.subject}: how often it comes back", headings=words),
            AGAIN,
        )

    @cached_property
    def lives(self):
        """Lives of the machine's wear classes: the guess, the records alone, and the two together."""
        return lives_behind(self._shop, self._table("lives"), self._machine)

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
            _UNNAMED.get(action, TOGETHER) if is_unknown(part) else part
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
