"""The page on the records: what was set aside, repaired, noted, and what is missing."""

from functools import cached_property

from pipeline.reports.charts import health as charts
from pipeline.reports.formats import count_of
from pipeline.reports.tables import Note, Table
from pipeline.reports.topics.missing import note, or_note


class Health:
    """What the page on the records shows.

    Parameters
    ----------
    shop : pipeline.reports.shop.Shop
        The store.
    records : pandas.DataFrame
        The table ``records``.
    """

    def __init__(self, shop, records):
        self._shop, self._records = shop, records
        self._files = shop.query("from last_load_files")
        self._delivered = shop.query("from delivered_job_records")

    @property
    def headline(self):
        """How many rows are in, and what is wrong with the rest."""
        rows, aside = int(self._files["rows_in"].sum()), int(self._files["rows_set_aside"].sum())
        silent = int(self._jobs_by_record().get("no parts recorded", 0))
        jobs = count_of(int(self._delivered["jobs"].sum()), "delivered job")
        missing = count_of(len(self._shop.missing), "optional file is", "optional files are")
        return (
            f"{rows - aside:,} of {count_of(rows, 'row')} are in, {aside:,} set aside, "
            f"{count_of(self._repaired_cells(), 'cell')} repaired. "
            f"{silent:,} of {jobs} say nothing about parts. {missing} missing."
        )

    @cached_property
    def set_aside(self):
        """Values that kept their rows out, with what was wanted."""
        return self._listed("set_aside", "Set aside: in no figure until they are mended")

    @cached_property
    def repaired(self):
        """Values that were mended by a stated rule, with before and after."""
        return self._listed("repaired", "Repaired: value as written, and as taken")

    @cached_property
    def noted(self):
        """Facts that are possible but deserve a look."""
        return self._listed("noted", "Noted: possible, but worth a look")

    @cached_property
    def files(self):
        """What became of the rows of each file."""
        return or_note(
            self._files,
            lambda frame: Table(frame, "Rows of each file in the last load"),
            note(self._shop, "Files of the last load"),
        )

    @cached_property
    def remarks_chart(self):
        """How many remarks each file got, by outcome."""
        counts = (
            self._records.groupby(["file", "outcome"], as_index=False)
            .size()
            .rename(columns={"size": "remarks"})
        )
        order = counts.groupby("file")["remarks"].transform("sum")
        counts = counts.assign(all=order).sort_values(["all", "file"], ascending=[False, True])
        return or_note(
            counts.drop(columns="all"), charts.remarks_by_file, note(self._shop, "Remarks of the last load")
        )

    @cached_property
    def delivered_chart(self):
        """Delivered jobs by month, with and without a record of parts."""
        return or_note(
            self._delivered.dropna(subset=["month_on"]),
            charts.jobs_recorded,
            note(self._shop, "Delivered jobs by month"),
        )

    @cached_property
    def missing(self):
        """Optional files that hold nothing yet, and what each would unlock."""
        return or_note(
            self._shop.missing,
            lambda frame: Table(frame, "Files that would unlock more"),
            Note("No file of the shop folder is missing."),
        )

    @cached_property
    def defaults(self):
        """Settings the owner has not given, with the default used instead."""
        keys = self._shop.query(
            "select key as setting, default_value as used, meaning as note from shop_keys"
            " where key in (select unnest(?)) order by key",
            [list(self._shop.settings.defaulted)],
        )
        return or_note(
            keys,
            lambda frame: Table(frame, "Settings not given: these stand in for yours"),
            Note("Every setting was given: nothing stands in for yours."),
        )

    def _repaired_cells(self):
        """A cell mended twice, its blanks dropped and its alias resolved, is one cell."""
        repaired = self._records[self._records["outcome"] == "repaired"]
        return len(repaired.drop_duplicates(["file", "line", "column"]))

    def _jobs_by_record(self):
        return self._delivered.groupby("record")["jobs"].sum()

    def _listed(self, outcome, caption):
        rows = self._records[self._records["outcome"] == outcome].drop(columns="outcome")
        none = {
            "set_aside": "No row was set aside.",
            "repaired": "Nothing had to be repaired.",
            "noted": "Nothing odd was found.",
        }[outcome]
        return or_note(rows, lambda frame: Table(frame, caption), Note(none))
