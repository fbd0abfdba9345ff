"""How far the forecast can be trusted, by its own past: part of the page on consumption."""

from functools import cached_property

import pandas as pd

from pipeline.decisions import backtest_reading
from pipeline.decisions.backtest import BY_JOBS, METHOD
from pipeline.reports.charts import trust as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table

_MONTHS = {91: 3, 365: 12}
ALL = "all families"


class Trust:
    """The forecast held against what came.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    made : pipeline.decisions.backtest.Backtest
        Forecasts made again as of past days.
    family : str
        One family, or an empty text for all.
    window_days : int
        91 or 365.
    """

    def __init__(self, shop, made, family, window_days):
        self._shop, self._made, self._days, self._months = shop, made, window_days, _MONTHS[window_days]
        scores = made.scores
        scores = scores[scores["horizon_months"] == self._months] if len(scores) else scores
        self._scores = scores[scores["family"] == family] if family and len(scores) else scores

    @cached_property
    def answer(self):
        """Better than plainer methods, by how much, on how many series."""
        if self._scores.empty:
            return self._nothing
        total = backtest_reading.skill(self._scores, self._months, []).iloc[0]
        first, last = self._scores["origin_on"].min(), self._scores["origin_on"].max()
        n_origins = self._scores["origin_on"].nunique()
        unit = "money" if total["forecast_money"] == total["forecast_money"] else "scaled"
        beside = [_beside(total[f"forecast_{unit}"], total[f"{other}_{unit}"], words)
                  for other, words in (("calendar", f"the best calendar method ({self._calendar})"),
                                       ("drawn", "whole past jobs drawn again"))]
        basis = (f"{'in money' if unit == 'money' else 'scaled'}; {int(total['n_series'])} series of family and part; "
                 f"{count_of(n_origins, 'origin')} from {first} to {last}")
        return Note(f"Over windows of {self._days} days the forecast's error is {' and '.join(beside)} ({basis}). What "
                    f"came fell in its middle 80 % in {100 * total['coverage80_share']:.0f} of 100 cases.")

    @cached_property
    def skill(self):
        """Error of the forecast, the best calendar method and whole jobs drawn again, by family and shelf rule."""
        if self._scores.empty:
            return self._nothing
        rows = pd.concat([backtest_reading.skill(self._scores, self._months, keys) for keys in (
            [], ["family"], ["family", "shelf_rule"])], ignore_index=True)
        rows["family"] = [self._shop.family_name(one) if isinstance(one, str) else ALL for one in rows["family"]]
        rows["shelf_rule"] = rows["shelf_rule"].fillna("all rules").replace("", "in no plan")
        columns = [column for column in backtest_reading.SKILL_COLUMNS if column in rows]
        is_total = (rows["shelf_rule"] != "all rules").to_numpy()
        rows = rows.assign(_order=(rows["family"] != ALL).to_numpy(), _rule=is_total).sort_values(
            ["_order", "family", "_rule", "shelf_rule"])[columns]
        money = f", {self._shop.currency} a window"
        headings = {"n_series": "series", "coverage80_share": "inside the middle 80 %"}
        for name, words in (("forecast", "forecast"), ("calendar", f"best calendar ({self._calendar})"),
                            ("drawn", "jobs drawn again")):
            headings |= {f"{name}_money": words + money, f"{name}_scaled": f"{words}, scaled"}
        return Table(rows, f"Error (CRPS, smaller is better) over windows of {self._days} days", self._shop.currency,
                     headings, dash="no price or no use before to measure by")

    @cached_property
    def skill_chart(self):
        """The error in money by family as a picture."""
        if self._scores.empty:
            return self._nothing
        rows = backtest_reading.skill(self._scores, self._months, ["family"])
        rows = self._shop.named(rows.dropna(subset=["forecast_money"]).sort_values("forecast_money", ascending=False))
        if rows.empty:
            return Note("No picture of the error in money: no part has a price.")
        return charts.error_by_family(rows, self._calendar, self._shop.currency, self._days)

    @cached_property
    def calibration_chart(self):
        """Where what came fell in the stated distributions: flat is right."""
        if self._scores.empty:
            return self._nothing
        own = self._scores[self._scores["method"] == BY_JOBS]
        return charts.where_it_fell(own["transform_share"], self._days)

    @cached_property
    def within_chart(self):
        """How often what came fell inside the middle 50, 80 and 90 %, by family."""
        if self._scores.empty:
            return self._nothing
        rows = self._shop.named(backtest_reading.within(self._scores, self._months))
        return charts.inside_bands(rows, self._days)

    @cached_property
    def method(self):
        """How it was judged, and why not by the mean absolute error."""
        if self._scores.empty:
            return Note(METHOD)
        unused = backtest_reading.unused_share(self._scores, self._months)
        return Note(f"{METHOD} Here {100 * unused:.0f} of 100 series used nothing in the window. The best calendar "
                    "method is chosen with hindsight. Series of one origin share its jobs, so intervals come from the "
                    "origins, not the series; windows of 365 days overlap and get none.")

    @cached_property
    def _calendar(self):
        return backtest_reading.best_calendar(self._scores, self._months)

    @property
    def _nothing(self):
        if self._made.scores.empty:
            return Note(self._made.note)
        return Note(f"Too few to say of windows of {self._days} days: none has passed since a year of records was "
                    "there.")


def _beside(own, other, words):
    if not other > 0:
        return f"beside no error of {words}"
    change = 1 - own / other
    return f"{100 * abs(change):.0f} % {'below' if change >= 0 else 'above'} that of {words}"
