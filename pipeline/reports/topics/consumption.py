"""The page on consumption: what each machine family will use in the next quarter and year."""

from functools import cached_property

import pandas as pd

from pipeline.decisions.forecast import AMOUNT_METHOD, METHODS
from pipeline.reports.charts import consumption as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import AGAIN, note, or_note
from pipeline.reports.topics.trust import Trust
from pipeline.reports.topics.use_beside import Beside
from pipeline.reports.topics.use_change import Change

FEW_JOBS = 5
_BANDS = ["expected_pcs", "q10_pcs", "q25_pcs", "q50_pcs", "q75_pcs", "q90_pcs"]
_WINDOWS = {91: "quarter", 365: "year"}


class Consumption:
    """What the page on consumption shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    decided : callable
        What a decision came to, by its topic: ``forecast`` at once; ``use_change``, ``use_beside`` and ``backtest``
        when asked for.
    family : str
        One family, or an empty text for all.
    window_days : int
        91 or 365 days from the shop's today.
    rows : int
        Most parts to draw.
    """

    def __init__(self, shop, decided, family="", window_days=91, rows=25):
        made = decided("forecast")
        self._decided = decided
        self._shop, self._made, self._family, self._days, self._rows = shop, made, family, window_days, rows
        self._window = f"the next {window_days} days"
        self._families = self._of_family(self._in_window(made.forecast_families)).sort_values(
            "expected_amount", ascending=False, ignore_index=True
        )
        self._forecast = self._of_family(self._in_window(made.forecast))
        self._parts = self._in_window(made.forecast_parts)

    @property
    def headline(self):
        """Money in parts that the families will use, and which family leads."""
        if not self._families["expected_amount"].notna().any():
            return self._headline_without_prices()
        first = self._families.iloc[0]
        total, lead, low, high = map(
            self._shop.money,
            (
                self._families["expected_amount"].sum(),
                first["expected_amount"],
                first["q10_amount"],
                first["q90_amount"],
            ),
        )
        jobs = f"{first['expected_jobs']:.1f} jobs expected, {int(first['jobs_seen'])} seen"
        return (
            f"In {self._window} the machines will use parts for about {total}. "
            f"{self._shop.family_name(first['family'])} alone: {lead}, 8 times in 10 between {low} and {high} "
            f"({jobs})."
        )

    def _headline_without_prices(self):
        if not len(self._parts):
            return f"Nothing can be said about {self._window}: no delivered job records its parts yet."
        first = self._parts.sort_values("expected_pcs", ascending=False).iloc[0]
        return (
            f"In {self._window} the machines will use about {first['expected_pcs']:.0f} pieces of {first['part']}, "
            f"8 times in 10 between {first['q10_pcs']:.0f} and {first['q90_pcs']:.0f}, and less of every other part. "
            "What that costs is unknown: no part has a price; offers.csv or unit_cost in parts.csv unlocks it."
        )

    @cached_property
    def families(self):
        """Each family's use in money, with its range and the jobs behind it."""
        columns = [
            "family_name",
            "expected_amount",
            "q10_amount",
            "q50_amount",
            "q90_amount",
            "expected_jobs",
            "jobs_seen",
        ]
        return or_note(
            self._shop.named(self._families),
            lambda frame: Table(
                frame[columns],
                f"Parts used by family in {self._window}, at today's cost",
                self._shop.currency,
                {"family_name": "family"},
            ),
            self._nothing,
        )

    @cached_property
    def families_chart(self):
        """The same as a picture."""
        return or_note(
            self._shop.named(self._families),
            lambda frame: charts.use_by_family(frame, self._shop.currency, self._window),
            AGAIN,
        )

    @cached_property
    def both_windows(self):
        """Next quarter and next year side by side."""
        frame = self._shop.named(self._families[["family"]])
        headings = {"family_name": "family"}
        for days, word in _WINDOWS.items():
            of_window = _of_days(self._made.forecast_families, days).set_index("family")
            for name, words in (("expected_amount", "expected"), ("q10_amount", "10 %"), ("q90_amount", "90 %"),
                                ("expected_jobs", "jobs")):
                frame[f"{word}_{name}"] = frame["family"].map(of_window[name])
                unit = "" if name == "expected_jobs" else f", {self._shop.currency}"
                headings[f"{word}_{name}"] = f"{word}: {words}{unit}"
        return or_note(frame.drop(columns="family"), lambda rows: Table(
            rows, "Parts used in the next quarter (91 days) and year (365 days), at today's cost",
            self._shop.currency, headings), AGAIN)

    @cached_property
    def jobs(self):
        """Jobs on the books and still to be booked, by family."""
        columns = ["family_name", "on_books_jobs", "known_jobs", "unbooked_jobs", "expected_jobs", "low_jobs",
                   "high_jobs"]
        headings = {"family_name": "family", "on_books_jobs": "on the books now", "known_jobs": "of these expected",
                    "unbooked_jobs": "still to be booked", "expected_jobs": "jobs expected",
                    "low_jobs": "10 %", "high_jobs": "90 %"}
        return or_note(self._shop.named(self._jobs), lambda frame: Table(
            frame[columns], f"Jobs that will use their parts in {self._window}", headings=headings), AGAIN)

    @cached_property
    def jobs_chart(self):
        """The same as a picture."""
        return or_note(self._shop.named(self._jobs), lambda frame: charts.jobs_to_come(frame, self._window), AGAIN)

    @cached_property
    def bench(self):
        """What limits the bench."""
        return Note(self._made.bench)

    @property
    def change(self):
        """What rises and falls against the year before (:class:`pipeline.reports.topics.use_change.Change`)."""
        return Change(self._shop, self._decided("use_change"), self._family, self._days, self._rows)

    @property
    def beside(self):
        """Reasons, stand-ins, counter sales (:class:`pipeline.reports.topics.use_beside.Beside`)."""
        return Beside(self._shop, self._decided("use_beside"), self._family, self._days)

    @cached_property
    def _trust(self):
        return Trust(self._shop, self._decided("backtest"), self._family, self._days)

    @property
    def trust(self):
        """How good the forecast would have been (:class:`pipeline.reports.topics.trust.Trust`)."""
        return self._trust

    @cached_property
    def thin_families(self):
        """Which families rest on a handful of jobs."""
        thin = self._families[self._families["jobs_seen"] < FEW_JOBS]
        named = [
            f"{self._shop.family_name(row.family)} ({count_of(int(row.jobs_seen), 'job')} only)"
            for row in thin.itertuples()
        ]
        return Note(
            f"Few jobs behind: {', '.join(named)}. Their figures lean on the other families."
            if named
            else f"Every family shown has at least {FEW_JOBS} recorded jobs behind it."
        )

    @cached_property
    def parts(self):
        """Every part's use, with its range."""
        frame = self._parts_shown
        columns = ["part", "description", *_BANDS, "jobs_seen"]
        return or_note(
            frame,
            lambda rows: Table(
                rows.assign(description=rows["part"].map(self._shop.parts))[columns],
                f"Pieces used in {self._window}, {self._whose}",
            ),
            AGAIN,
        )

    @cached_property
    def parts_chart(self):
        """The parts used most, as a picture."""
        return or_note(
            self._shop.named(self._parts_shown.head(self._rows)),
            lambda frame: charts.use_by_part(frame, self._window, self._whose),
            self._nothing,
        )

    @cached_property
    def map(self):
        """Which family uses which part."""
        used = self._forecast["expected_pcs"].astype(float).groupby(self._forecast["part"]).sum()
        top = used.nlargest(self._rows).index
        frame = self._forecast[self._forecast["part"].isin(top)]
        order = pd.Categorical(frame["part"], categories=top, ordered=True)
        frame = frame.assign(_order=order).sort_values(["_order", "family"]).drop(columns="_order")
        return or_note(self._shop.named(frame), lambda rows: charts.use_map(rows, self._window), AGAIN)

    @cached_property
    def method(self):
        """How the figures were worked out."""
        used = [METHODS.get(method, method) for method in dict.fromkeys(self._forecast["method"])]
        return Note(" ".join([*used, AMOUNT_METHOD]))

    @cached_property
    def assumed(self):
        """What had to be assumed, and which parts no amount counts because no price is known."""
        unpriced = self._made.unpriced["part"].tolist()
        said = [
            *self._made.notes,
            *([f"no price is known for {', '.join(unpriced)}: no amount counts them"] if unpriced else []),
        ]
        return Note(f"Assumed: {'; '.join(said)}." if said else "Nothing had to be assumed.")

    @cached_property
    def unknown_jobs(self):
        """What delivered jobs without a record of parts leave open."""
        n_jobs = int(self._made.readings["jobs_unknown"].sum()) if len(self._made.readings) else 0
        if n_jobs == 0:
            return Note("Every delivered job says what it used.")
        effect = _of_days(self._made.unknown_jobs_effect, self._days)
        pieces = effect[["expected_pcs", "expected_unknown_as_none_pcs"]].astype(float).sum()
        left_out = f"{count_of(n_jobs, 'delivered job')} left no record of parts and are left out: unknown, not none."
        if not pieces["expected_pcs"] > 0:
            return Note(left_out)
        lower = 1 - pieces["expected_unknown_as_none_pcs"] / pieces["expected_pcs"]
        return Note(f"{left_out} If they really used none, {100 * lower:.0f} % fewer pieces would be expected.")

    @property
    def _whose(self):
        return self._shop.families.get(self._family, self._family) if self._family else "all families together"

    @property
    def _parts_shown(self):
        frame = self._forecast if self._family else self._parts
        return frame[frame["expected_pcs"] > 0].sort_values(["expected_pcs", "part"], ascending=[False, True])

    @property
    def _nothing(self):
        return note(self._shop, "Consumption", "jobs.csv", "job_parts.csv")

    def _of_family(self, frame):
        return frame[frame["family"] == self._family] if self._family else frame

    def _in_window(self, frame):
        return _of_days(frame, self._days)

    @property
    def _jobs(self):
        jobs = self._of_family(self._in_window(self._made.coming_jobs))
        return jobs.sort_values("expected_jobs", ascending=False, ignore_index=True)


def _of_days(frame, window_days):
    days = (pd.to_datetime(frame["to_on"]) - pd.to_datetime(frame["from_on"])).dt.days + 1
    return frame[days == window_days]
