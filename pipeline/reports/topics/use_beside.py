"""What stands beside the forecast: reasons, stand-ins, counter sales: part of the page on consumption."""

from functools import cached_property

from scipy.special import expit

from pipeline.decisions.use_beside import STAND_IN_METHOD
from pipeline.reports.charts import consumption as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import note, or_note

_REASONS = {"failed": "failed_uses", "by habit (policy)": "policy_uses", "came along (companion)": "companion_uses",
            "broke, no cure, upgrade": "other_uses", "reason unknown": "unknown_reason_uses"}


class Beside:
    """What stands beside the forecast.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    made : pipeline.decisions.use_beside.UseBeside
        Reasons, stand-ins, counter sales.
    family : str
        One family, or an empty text for all.
    window_days : int
        91 or 365.
    """

    def __init__(self, shop, made, family, window_days):
        self._shop, self._made, self._days = shop, made, window_days
        reasons = made.reasons[made.reasons["family"] == family] if family else made.reasons
        total = reasons[list(_REASONS.values())].sum(axis=1)
        self._reasons = reasons.assign(uses=total).sort_values("uses", ascending=False, ignore_index=True)

    @cached_property
    def reasons(self):
        """Why parts were taken, by family, call-backs apart."""
        columns = ["family_name", "uses", *_REASONS.values(), "callback_uses"]
        headings = {"family_name": "family", "uses": "uses in all", "callback_uses": "at call-backs, apart",
                    **{column: words for words, column in _REASONS.items()}}
        return or_note(self._shop.named(self._reasons), lambda frame: Table(
            frame[columns], "Why parts were taken so far; a use is one job taking one part", headings=headings),
            note(self._shop, "Why parts were taken", "job_parts.csv"))

    @cached_property
    def reasons_chart(self):
        """The same as a picture, call-backs left out."""
        used = self._reasons[self._reasons["uses"] > 0]
        return or_note(self._shop.named(used), lambda frame: charts.use_by_reason(frame, _REASONS),
                       note(self._shop, "Why parts were taken", "job_parts.csv"))

    @cached_property
    def stand_ins(self):
        """Parts that may stand in for others, and what one shelf for both would have to cover."""
        rows = self._made.stand_ins[self._made.stand_ins["days"] == self._days]
        headings = {"stands_in_for": "may stand in for", "condition": "when", "expected_pcs": "own use, pcs",
                    "q90_pcs": "own use, 90 %, pcs", "other_expected_pcs": "use of the other, pcs",
                    "together_expected_pcs": "together, pcs", "together_q90_pcs": "together, 90 %, pcs"}
        return or_note(rows.drop(columns="days"), lambda frame: Table(
            frame, f"Parts that may stand in for others, next {self._days} days", headings=headings,
            dash="always, as far as is written"), note(self._shop, "Stand-ins", "interchange.csv"))

    @cached_property
    def stand_ins_method(self):
        """How the rules are followed."""
        return Note(STAND_IN_METHOD)

    @cached_property
    def counter(self):
        """Counter sales of the parts of which enough was sold to say something."""
        told = self._sold.by_part
        told = told[told["expected_pcs"].notna()]
        columns = ["part", "expected_pcs", "q10_pcs", "q90_pcs", "sales", "sold_pcs", "months"]
        return or_note(told, lambda frame: Table(
            frame[columns], f"Sold over the counter in the next {self._days} days; no part of any figure above",
            headings={"sales": "sales so far", "sold_pcs": "sold so far, pcs", "months": "months of records"}),
            Note("No single part: too few to say of any."))

    @cached_property
    def counter_total(self):
        """Counter sales of all parts as one series, and of how many parts nothing can be said."""
        sold = self._sold
        if sold.by_part.empty:
            return note(self._shop, "Counter sales", "stock_moves.csv")
        n_silent = int(sold.by_part["expected_pcs"].isna().sum())
        silent = f"Of {n_silent} of {count_of(len(sold.by_part), 'part')} ever sold: too few to say."
        whole = sold.together.iloc[0]
        if whole["expected_pcs"] != whole["expected_pcs"]:
            return Note(f"All parts together: {whole['note']}. {silent}")
        return Note(f"All parts together: about {whole['expected_pcs']:.0f} pieces in the next {self._days} days, 8 "
                    f"times in 10 between {whole['q10_pcs']:.0f} and {whole['q90_pcs']:.0f}, from "
                    f"{count_of(int(whole['sales']), 'sale')} in {count_of(int(whole['months']), 'month')} (calendar "
                    f"method: {sold.method}). {silent}")

    @cached_property
    def roughness(self):
        """How strongly the uses of one job hang together."""
        found = self._made.roughness
        if found.jobs == 0:
            return Note("Whether rough machines take more of everything: no job to ask yet.")
        half, low, high = (f"{100 * expit(loading):.0f}" for loading in (found.loading, found.low, found.high))
        return Note(f"Rough machines take more of everything: of parts that half the jobs use, a job rougher than five "
                    f"in six uses {half} in 100 (8 times in 10 between {low} and {high}; {count_of(found.jobs, 'job')} "
                    "asked; 50 would mean that the parts of a job have nothing to do with each other).")

    @cached_property
    def plays(self):
        """Whether the play counter foretells use."""
        return Note(self._made.plays_note)

    @property
    def _sold(self):
        return self._made.counter[self._days]
