"""What rises and falls against the year before, and why: part of the page on consumption."""

from functools import cached_property

from pipeline.decisions.use_change import METHOD, WHY
from pipeline.reports.charts import use_change as charts
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import or_note

_WORDS = ("number of jobs", "how thorough they are", "use per job")


class Change:
    """Change against the same window a year before.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    made : pipeline.decisions.use_change.UseChange
        The change, split.
    family : str
        One family, or an empty text for all.
    window_days : int
        91 or 365.
    rows : int
        Most parts to list.
    """

    def __init__(self, shop, made, family, window_days, rows):
        self._shop, self._made, self._days, self._rows = shop, made, window_days, rows
        families = made.families[made.families["days"] == window_days]
        families = families[families["family"] == family] if family else families
        change = (families["expected_amount"] - families["before_amount"]).astype(float)
        families = families.assign(change_amount=change)
        self._families = families.sort_values("change_amount", ascending=False, ignore_index=True)

    @cached_property
    def families(self):
        """Each family's money then and now, and the change split in three."""
        columns = ["family_name", "jobs_before", "jobs_now", "before_amount", "expected_amount", "change_amount",
                   *(f"{why}_amount" for why in WHY)]
        headings = {"family_name": "family", "jobs_before": "jobs a year ago", "jobs_now": "jobs expected",
                    "before_amount": f"used a year ago, {self._shop.currency}"}
        headings |= {f"{why}_amount": f"by {words}, {self._shop.currency}" for why, words in zip(WHY, _WORDS,
                                                                                                 strict=True)}
        return or_note(self._shop.named(self._families), lambda frame: Table(
            frame[columns],
            f"Parts used in the next {self._days} days beside the same days a year before, at today's prices",
            self._shop.currency, headings), self._why_not)

    @cached_property
    def chart(self):
        """The same as a picture."""
        frame = self._shop.named(self._families.dropna(subset=["change_amount"]))
        looks = dict(zip(_WORDS, (f"{why}_amount" for why in WHY), strict=True))
        return or_note(frame, lambda rows: charts.change_by_family(rows, looks, self._shop.currency, self._days),
                       self._why_not)

    @cached_property
    def parts(self):
        """The parts of which a year ago lies outside the range now, the dearest change first; families together."""
        parts = self._made.parts[self._made.parts["days"] == self._days]
        is_outside = (parts["before_pcs"] < parts["q10_pcs"]) | (parts["before_pcs"] > parts["q90_pcs"])
        order = parts["change_amount"].astype(float).abs().sort_values(ascending=False, kind="stable").index
        order = order[is_outside.loc[order]][: self._rows]
        frame = parts.assign(part_name=[self._shop.part_name(part) for part in parts["part"]])
        columns = ["part_name", "before_pcs", "expected_pcs", "q10_pcs", "q90_pcs", "change_amount",
                   *(f"{why}_pcs" for why in WHY)]
        headings = {"part_name": "part", "before_pcs": "used a year ago, pcs"}
        headings |= {f"{why}_pcs": f"by {words}, pcs" for why, words in zip(WHY, _WORDS, strict=True)}
        return or_note(frame.loc[order, columns], lambda rows: Table(
            rows, f"Parts of which a year ago lies outside 8 in 10 of the next {self._days} days, all families; "
                  "2 in 10 do by chance alone", self._shop.currency, headings), self._why_not)

    @cached_property
    def method(self):
        """How the change is split, and what is not in the records."""
        return Note(" ".join(filter(None, [METHOD, self._made.notes.get(self._days, "")])))

    @property
    def _why_not(self):
        said = self._made.notes.get(self._days, "") if self._families.empty else ""
        return Note(said or "Nothing to hold against the year before: no amount or no job is known.")
