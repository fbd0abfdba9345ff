"""The page on the records: can they be trusted, and what should be mended first."""

from functools import cached_property

import pandas as pd

from pipeline.decisions import records_review, records_stock
from pipeline.decisions.records_gaps import KINDS as RECORD_KINDS
from pipeline.reports.charts import health as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.health_words import KINDS, found, kinds_told, listed
from pipeline.reports.topics.missing import note, or_note
from pipeline.store import connect, read

FIRST_ROWS = 15
LOADS_DRAWN = 20
PRICE_RULES = ("price_far_from_usual", "pack_entered_as_pieces")
COUNT_RULES = ("count_far_from_book", "count_in_packs")


class Health:
    """What the page on the records shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    """

    def __init__(self, shop):
        self._shop = shop
        with connect.open_read(shop.path) as connection:
            self._review = records_review.make(connection)
            self._files, self._trend, self._delivered, self._days = (
                read.frame(connection, name)
                for name in ("last_load_files", "load_trend", "delivered_job_records", "record_days")
            )

    @property
    def headline(self):
        """How much is in, how many decisions rest on no doubtful record, and what to mend first."""
        rows = count_of(self._review.rows_in, "row is", "rows are")
        waiting = count_of(len(self._review.waiting.rows), "waits", "wait")
        cells = count_of(len(self._review.repaired_cells), "cell was", "cells were")
        said = f"{rows} in, {waiting} to be mended, {cells} repaired. "
        decisions = len(self._review.decisions.rows)
        if not decisions:
            return f"{said}Nothing is decided on these records yet."
        sure = decisions - self._review.in_doubt
        return f"{said}{sure:,} of {count_of(decisions, 'decision')} rest on no record in doubt. {self._first_told()}"

    @cached_property
    def first(self):
        """What to mend, that on which most decisions rest first."""
        count, first = len(self._review.first), self._review.first.head(FIRST_ROWS)
        those = f"the {FIRST_ROWS} of {count:,}" if count > FIRST_ROWS else "that"
        return self._table(
            first.rename(columns={"where": "description"}), f"Mend first: {those} on which most decisions rest",
            "Nothing waits, and nothing lacks that a decision rests on.", whole=True,
            headings={"what": "what is wrong", "description": "where", "rows": "rows or remarks",
                      "what_to_do": "what to do"},
            dash="not told in rows, or in money",
        )

    @cached_property
    def decisions(self):
        """What counts as a decision, and how many there are."""
        kinds = self._review.decisions.kinds
        told = pd.DataFrame([(KINDS[kind][0], *KINDS[kind][2:]) for kind in kinds["kind"]],
                            columns=["decision", "note", "table"])
        frame = pd.concat([told, kinds[["decisions", "amount"]]], axis=1)
        return self._table(frame, "What counts as a decision: a row of an output table that is read to decide",
                           "No output table has a row yet.", headings={"note": "what it decides"},
                           dash="told in pieces, hours or days instead")

    @cached_property
    def mends(self):
        """What one mend brings in, where a row or a name keeps out others."""
        mends = self._review.waiting.mends
        if not (mends["rows"] > 1).any():
            return Note("No row keeps out others: each one listed below is mended by itself.")
        frame = found(mends[mends["rows"] > 1])[["file", "lines", "description", "why", "rows", "decisions", "amount"]]
        return self._table(frame, "One mend that brings in many rows", "", headings={
            "lines": "line", "description": "found", "rows": "rows it brings in"})

    @cached_property
    def set_aside(self):
        """Every row that waits, with all that is wrong with it."""
        rows = self._review.waiting.rows
        newest = self._trend["load_no"].max()
        older = rows.loc[rows["load_no"] < newest, "file"].drop_duplicates()
        from_before = f" ({', '.join(older)}: from an earlier load)" if len(older) else ""
        return self._table(rows.drop(columns="load_no"), f"Rows that wait{from_before}", "No row waits to be mended.",
                           dash="empty, or told in no money")

    @cached_property
    def repaired_kinds(self):
        """Kinds of mend, with samples."""
        frame = self._review.repaired_kinds.rename(columns={"samples": "note"})
        return self._table(frame, "Repaired, by kind of mend", "Nothing had to be repaired.",
                           headings={"note": "as written, as taken"})

    @cached_property
    def repaired(self):
        """Every cell that was mended by a stated rule, as written and as taken."""
        return self._table(self._review.repaired_cells, "Every cell that was repaired, as written and as taken",
                           "Nothing had to be repaired.", dash="empty, or not kept whose row it was")

    @cached_property
    def missing(self):
        """Optional files that hold nothing yet, what each would unlock, and for how many decisions."""
        kinds = self._review.missing_kinds
        told = {file: kinds_told(of_file) for file, of_file in kinds.groupby("file")}
        missing = self._review.missing
        frame = missing.assign(note=missing["file"].map(told)).reindex(
            columns=["file", "unlocks", "decisions", "note", "amount"])
        return self._table(frame, "Files that would unlock more", "No file of the shop folder is missing.",
                           headings={"decisions": "decisions today", "note": "which"}, dash="none yet")

    @cached_property
    def defaults(self):
        """Settings the owner has not given, with the default used instead."""
        keys = self._shop.query(
            "select key as setting, default_value as used, meaning as note from shop_keys"
            " where key in (select unnest(?)) order by key",
            [list(self._shop.settings.defaulted)],
        )
        return self._table(keys, "Settings not given: these stand in for yours",
                           "Every setting was given: nothing stands in for yours.",
                           dash="not used, or from the records")

    @cached_property
    def weeks_chart(self):
        """Weeks in which each kind of record was written down, and the gaps."""
        days = self._days.assign(day=pd.to_datetime(self._days["day"]))
        week = days["day"] - pd.to_timedelta(days["day"].dt.day_of_week, unit="D")
        weeks = days.assign(week_on=week, kind=days["holds"].map(RECORD_KINDS))
        weeks = weeks.groupby(["kind", "week_on"], as_index=False)["records"].sum()
        order = weeks["kind"].map(list(RECORD_KINDS.values()).index)
        weeks = weeks.iloc[order.argsort(kind="stable")]
        return or_note(weeks, lambda frame: charts.weeks_recorded(frame, self._review.gaps),
                       note(self._shop, "Days of records"))

    @cached_property
    def gaps(self):
        """Stretches without a record that the rhythm does not explain."""
        return self._table(self._review.gaps, "Stretches without a record, longer than the rhythm explains",
                           "No stretch without a record is longer than the rhythm of its kind explains.",
                           headings={"kind": "without", "place": "where", "from_on": "from", "to_on": "to",
                                     "gap_days": "long, days", "usual_days": "usual, days", "jobs": "jobs meanwhile"})

    @cached_property
    def rhythms(self):
        """How often each kind of record is written down, and from how many days on a stretch is told."""
        return self._table(self._review.rhythms, "The rhythm of each kind of record",
                           "No record bears a day yet.", dash="too few days to tell a rhythm",
                           headings={"kind": "record", "record_days": "days with records", "first_on": "first",
                                     "last_on": "last", "usual_days": "usual gap, days", "gaps": "told above",
                                     "limit_days": "told from, days"})

    @cached_property
    def delivered_chart(self):
        """Delivered jobs by month, with and without a record of parts."""
        return or_note(
            self._delivered.dropna(subset=["month_on"]),
            charts.jobs_recorded,
            note(self._shop, "Delivered jobs by month"),
        )

    @cached_property
    def jobs(self):
        """Delivered jobs that lack their parts, hours or invoice."""
        jobs = self._shop.named(self._review.jobs)
        frame = jobs.reindex(columns=["job", "family_name", "scope", "delivered_on", "lacks", "decisions", "amount"])
        return self._table(frame, "Delivered jobs that lack something",
                           "No delivered job lacks its parts, or the hours and invoice that others have.",
                           headings={"family_name": "family", "delivered_on": "delivered"})

    @cached_property
    def parts(self):
        """Parts that were used and have no price."""
        return self._table(self._review.parts, "Parts used without any price", "Every part that was used has a price.",
                           headings={"used_pcs": "used, pcs", "year_pcs": "used in the last year, pcs",
                                     "jobs": "by jobs"})

    @cached_property
    def prices(self):
        """Prices far from what is usual."""
        return self._noted(self._of_rules(PRICE_RULES), "Prices far from the usual", "No price is far from the usual.")

    @cached_property
    def counts(self):
        """Counts far from the book."""
        return self._noted(self._of_rules(COUNT_RULES), "Counts far from the book", "No count is far from the book.")

    @cached_property
    def negatives(self):
        """Parts whose book fell below none, with the likely cause."""
        frame = self._review.negatives.drop(columns="is_below_now").rename(columns={"likely_cause": "reason"})
        return self._table(frame, "Fewer than none on the shelf", "No part's book ever falls below none.",
                           headings={"reason": "likely cause", "on_hand_pcs": "now, pcs", "lowest_pcs": "lowest, pcs",
                                     "below_since_on": "since", "until_on": "until"},
                           dash="still so; no job; or in no money")

    @cached_property
    def ledger(self):
        """Pieces in and out of the parts whose counts differed from the book."""
        book = self._review.ledger
        differ = book[(book["gain_pcs"] > 0) | (book["loss_pcs"] > 0)]
        return self._table(
            differ, "Parts whose counts differed from the book: came + gained = went + lost + on the shelf",
            self._all_add_up(), headings={"came_pcs": "came, pcs", "gain_pcs": "gained at counts, pcs",
                                          "went_pcs": "went, pcs", "loss_pcs": "lost at counts, pcs",
                                          "amount": f"gained and lost, {self._shop.currency}"})

    @cached_property
    def noted(self):
        """All else that is possible but odd."""
        rest = ~self._of_rules(PRICE_RULES + COUNT_RULES)
        return self._noted(rest, "Noted: possible, but worth a look", "Nothing else is odd.")

    @cached_property
    def trend_chart(self):
        """What each load found, from the second load on."""
        if len(self._trend) < 2:
            loads = "One load so far" if len(self._trend) else "No load yet"
            return Note(f"{loads}: a trend is drawn from the second on.")
        recent = self._trend.tail(LOADS_DRAWN)
        day = pd.to_datetime(recent["loaded_on"]).dt.strftime("%Y-%m-%d")
        return charts.loads(recent.assign(load="load " + recent["load_no"].astype(str) + ", " + day))

    @cached_property
    def loads(self):
        """What each load found, the newest first."""
        return self._table(self._trend.iloc[::-1], "Loads, the newest first", "Nothing was loaded yet.",
                           headings={"load_no": "load", "loaded_on": "on"})

    @cached_property
    def files(self):
        """What became of the rows of each file."""
        return self._table(self._files, "Rows of each file in its newest load", "No file was loaded yet.",
                           headings={"load_no": "load", "loaded_on": "on", "rows_waiting": "rows that wait now"})

    def _table(self, frame, caption, nothing, headings=None, dash="unknown", whole=False):
        def make(rows):
            table = listed(rows, caption, self._shop.currency, headings, dash)
            return Table(rows, caption, self._shop.currency, table.headings, dash, True) if whole else table

        return or_note(frame, make, Note(nothing))

    def _noted(self, of_these, caption, nothing):
        noted = self._review.noted[of_these]
        frame = noted.assign(rule=noted["rule"].str.replace("_", " ")).rename(columns={"rule": "description"})
        return self._table(frame, caption, nothing, headings={"description": "what is odd"},
                           dash="it names no part, job or vendor")

    def _all_add_up(self):
        told = records_stock.adds_up(self._review.ledger)
        known = count_of(int(told.notna().sum()), "part")
        return f"No count ever differed from the book: all that came of {known} is what went and what is left."

    def _of_rules(self, rules):
        return self._review.noted["rule"].isin(rules)

    def _first_told(self):
        if not len(self._review.first):
            return "Nothing has to be mended."
        first = self._review.first.iloc[0]
        rest = count_of(int(first["decisions"]), "decision rests", "decisions rest")
        return f"Mend first what {rest} on: {first['where']} ({first['what']})."
