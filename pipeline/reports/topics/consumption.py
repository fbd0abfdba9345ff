"""The page on consumption: what each machine family will use in the next quarter and year."""

from functools import cached_property

import pandas as pd

from pipeline.decisions.forecast import AMOUNT_METHOD, METHODS
from pipeline.reports.charts import consumption as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import AGAIN, note, or_note

FEW_JOBS = 5
_BANDS = ["expected_pcs", "q05_pcs", "q25_pcs", "q50_pcs", "q75_pcs", "q95_pcs"]


class Consumption:
    """What the page on consumption shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    made : pipeline.decisions.forecast.Forecast
        The forecast, with its notes.
    family : str
        One family, or an empty text for all.
    window_days : int
        91 or 365 days from the shop's today.
    rows : int
        Most parts to draw.
    """

    def __init__(self, shop, made, family="", window_days=91, rows=25):
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
            f"9 times in 10 between {first['q05_pcs']:.0f} and {first['q95_pcs']:.0f}, and less of every other part. "
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
                headings={"q05_pcs": "5 %, pcs"},
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
        """How the figures were worked out, and what a fuller method would add."""
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
        days = (pd.to_datetime(frame["to_on"]) - pd.to_datetime(frame["from_on"])).dt.days + 1
        return frame[days == self._days]
