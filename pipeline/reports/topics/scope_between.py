"""The part of the scope page between the two ends: the frontier, what goes in and what stays, and what if."""

import html
from functools import cached_property

from pipeline.decisions import scope_what_if
from pipeline.decisions.scope import OPTIONS
from pipeline.reports import formats, widgets
from pipeline.reports.charts import scope_frontier
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import AGAIN, or_note

_DONE = ("part", "assembly", "qty_pcs", "action", "now_amount", "failures_avoided", "break_even_failures", "why")


class Between:
    """The recommended scope of one machine, and how it would move.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    own : pipeline.decisions.scope_shop.Shop
        What the reckoning rests on.
    machine : pipeline.decisions.scope.Machine or None
        At the chance asked.
    machines : dict of str to pipeline.decisions.scope.Machine
        All there are, by subject.
    tables : tuple of pandas.DataFrame
        Options with ``option_name``, lines in words, frontier.
    quiet_share : float
        Chance of no call-back asked of the recommended scope.
    nothing : pipeline.reports.tables.Note
        Shown where nothing says what stays in the machine.
    """

    def __init__(self, shop, own, machine, machines, tables, quiet_share, nothing):
        self._shop, self._own, self._machine, self._quiet_share = shop, own, machine, quiet_share
        self._machines = machines
        self._options, self._lines, self._frontier = tables
        self._nothing, self._is_listed = nothing, machine is not None and machine.subject.is_listed

    @cached_property
    def target(self):
        """Whether the chance asked is reached, and what more quiet would cost."""
        return Note(self._sentence()) if self._is_listed else self._nothing

    def _sentence(self):
        frontier, asked = self._machine.frontier, 100 * self._quiet_share
        best, quietest = frontier.best(self._quiet_share), int(frontier.table["quiet_share"].argmax())
        chosen, most = frontier.table.iloc[best], frontier.table.iloc[quietest]
        if chosen["quiet_share"] < self._quiet_share:
            return (
                f"No scope on offer reaches a chance of {asked:.0f} % of no call-back; the quietest has "
                f"{100 * most['quiet_share']:.1f} % and costs {self._shop.money(most['total_amount'])} in all. "
                f"Recommended is the cheapest, with {100 * chosen['quiet_share']:.1f} %."
            )
        more = self._shop.money(most["total_amount"] - chosen["total_amount"])
        return (
            f"Recommended is the cheapest scope, call-backs counted, with at least {asked:.0f} % chance of no "
            f"call-back inside the warranty: it has {100 * chosen['quiet_share']:.1f} %. The quietest there is has "
            f"{100 * most['quiet_share']:.1f} % and costs {more} more in all."
        )

    @cached_property
    def frontier_chart(self):
        """Whole cost against the chance of a call-back."""
        if not self._is_listed:
            return AGAIN
        now = self._options["parts_amount"] + self._options["bench_hours"] * self._own.hour_cost
        now += self._options["bay_amount"]
        options = self._options.assign(now_amount=now, later_amount=self._options["later_cost_amount"],
                                       total_amount=now + self._options["later_cost_amount"])
        frontier = self._frontier.assign(callback_share=1 - self._frontier["quiet_share"])
        return scope_frontier.frontier(frontier, options, self._quiet_share, self._shop.currency)

    @cached_property
    def goes_in(self):
        """Lines that the recommended scope works on beyond fixing."""
        if not self._is_listed:
            return AGAIN
        lines = self._recommended
        done = lines[lines["failures_avoided"].notna() & ~lines["action"].isin(["keep", "open", "start"])]
        return or_note(
            done.sort_values("failures_avoided", ascending=False),
            lambda frame: Table(frame[list(_DONE)], "Goes in beyond fixing, and why", self._shop.currency),
            Note("Nothing goes in beyond fixing: by what is known, nothing else pays."),
        )

    @cached_property
    def stays(self):
        """Lines that a thorough job works on and the recommended scope leaves."""
        if not self._is_listed:
            return AGAIN
        kept = self._recommended[self._recommended["action"] == "keep"]
        columns = ["part", "assembly", "qty_pcs", "failures_avoided", "break_even_failures", "why"]
        return or_note(
            kept.sort_values("failures_avoided", ascending=False),
            lambda frame: Table(frame[columns], "A thorough job would do these; here they stay", self._shop.currency),
            Note("Nothing that a thorough job works on is left out."),
        )

    @cached_property
    def what_if(self):
        """Fields to move, and the scope that would follow."""
        if not self._is_listed:
            return AGAIN
        trip = float(self._own.settings.callback_trip_cost)
        most = max(10 * trip, 500.0)
        machines = {self._machine.subject.subject: self._machine} | self._machines
        fields = {
            "machine": widgets.choice_field("Machine", [(self._name(name), each) for name, each in machines.items()
                                                        if each.subject.is_listed]),
            "quiet_percent": widgets.slide_field("No call-back, %", 100 * self._quiet_share, 50.0, 99.0, 1.0, ".0f"),
            "horizon_years": widgets.slide_field("Years counted", 5.0, 0.5, 10.0, 0.5, ".1f"),
            "trip_amount": widgets.slide_field(f"Trip, {self._shop.currency}", trip, 0.0, most, 5.0, ".0f"),
            "open_ratio": widgets.slide_field("Opening hours, times", 1.0, 0.0, 4.0, 0.1, ".1f"),
        }
        return widgets.live_form(fields, self._answer)

    def _name(self, subject):
        kind, _, name = subject.partition(":")
        return f"job {name}" if kind == "job" else f"a typical {self._shop.family_name(name)} machine"

    def _answer(self, machine, quiet_percent, **asked):
        plan, quiet_share = machine.plans(self._quiet_share)[OPTIONS[1]], quiet_percent / 100
        return self._told(scope_what_if.ask(self._own, machine, plan, quiet_share, **asked), quiet_share)

    def _told(self, answer, quiet_share):
        money = self._shop.money
        missed = "" if answer.is_reached else (
            f"No scope on offer reaches {100 * quiet_share:.0f} %: the quietest has "
            f"{100 * answer.most_quiet_share:.1f} % and costs {money(answer.most_quiet_amount)} in all. "
            "Shown is the cheapest. ")
        text = (
            f"{missed}Work now {money(answer.now_amount)}, call-backs later {money(answer.later_amount)}, in all "
            f"{money(answer.now_amount + answer.later_amount)}; chance of no call-back inside the warranty "
            f"{100 * answer.quiet_share:.1f} %."
        )
        words = {"option": "option", "now_amount": f"work now, {self._shop.currency}",
                 "later_amount": f"call-backs later, {self._shop.currency}",
                 "total_amount": f"in all, {self._shop.currency}", "quiet_share": "chance of no call-back"}
        beside = Table(answer.options[list(words)], "The three options as asked", headings=words)._repr_html_()
        if answer.changes.empty:
            return f"<p>{html.escape(text)} The scope stays as recommended by the shop's own terms.</p>{beside}"
        names = self._shop.assemblies
        places = [names.get(place, place) if not formats.is_unknown(place) else "no assembly"
                  for place in answer.changes["assembly"]]
        words = {"part": "part", "assembly": "assembly", "was_action": "by own terms", "was_pcs": "pcs by own terms",
                 "action": "as asked", "qty_pcs": "pcs as asked"}
        frame = answer.changes.assign(assembly=places)[list(words)]
        table = Table(frame, f"{formats.count_of(len(frame), 'line')} of the scope would change", headings=words)
        return f"<p>{html.escape(text)}</p>{beside}{table._repr_html_()}"

    @property
    def _recommended(self):
        return self._lines[self._lines["option"] == "recommended"]
