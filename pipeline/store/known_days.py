"""From which day each row of the store, and each of its values, was known: one rule for each table, said once.

The conditions are SQL for :mod:`pipeline.store.as_of`: ``base`` is the row, ``state`` what its job was on the day
(``as_of_jobs.sql``), and ``known_by(day)`` is true where a day is filled and not later. Where the records give no
day, the reading is taken that tells a past day least.
"""

from dataclasses import dataclass, field

# What becomes of a row that has no day of its own.
STAYS = "true"  # a register: nobody dates its rows, they are as they are now
NEVER = "false"  # known on no day
WRITTEN_OF = "state.job is not null"  # from the first day that anything was written of its job
WITH_JOB = "state.is_over"  # when its job was over
WITH_ORDER = "base.order_no in (select order_no from standing.orders where known_by(ordered_on))"
AFTER_CALLS = "case when base.{} = 'callback' then state.is_quiet else state.is_over end"

# What holds back a value that has no day of its own.
STARTED = "state.is_started"
OVER = "state.is_over"
GOODS_CAME = """base.order_no in (
    select order_no from standing.order_lines where known_by(received_on)
    union all select order_no from standing.receipts where known_by(received_on))"""


@dataclass(frozen=True)
class Known:
    """From which day the rows of one table were known.

    Attributes
    ----------
    dated_by : tuple of str
        Columns, in the order in which they are asked for the row's day. One of them that is later is blank.
    undated : str
        The condition under which a row without such a day is known.
    later : dict of str to tuple of str
        Days that may follow the row's own, each with the columns that came with it: blank until then.
    held : dict of str to tuple of str
        Conditions, each with the columns that were blank before it held.
    ahead : tuple of str
        Days that lie ahead by nature: taken as written, though they may have been moved since.
    told : dict of str to str
        Columns that are told anew, by an expression.
    """

    dated_by: tuple = ()
    undated: str = NEVER
    later: dict = field(default_factory=dict)
    held: dict = field(default_factory=dict)
    ahead: tuple = ()
    told: dict = field(default_factory=dict)

    @property
    def days(self):
        """Columns with a day that tells when something was known (tuple of str)."""
        return (*self.dated_by, *self.later)

    @property
    def is_register(self):
        """True where rows are as they are now."""
        return self.undated == STAYS

    def row(self):
        """Return the condition under which a row was known (str)."""
        if not self.dated_by:
            return self.undated
        day = f"coalesce({', '.join(f'base.{column}' for column in self.dated_by)})"
        return f"case when {day} is null then {self.undated} else known_by({day}) end"

    def values(self):
        """Return the columns that are not simply as written, each with its expression (dict of str to str)."""
        when = {column: condition for condition, columns in self.held.items() for column in columns}
        for day in self.days:
            when |= dict.fromkeys((day, *self.later.get(day, ())), f"known_by(base.{day})")
        blanked = {column: f'case when {condition} then base."{column}" end' for column, condition in when.items()}
        return blanked | self.told


# Spellings, prices remembered and guesses: those of now.
_REGISTERS = ("store_version", "shop_keys", "shop", "families", "parts", "aliases", "interchange", "companions",
              "machines", "vendors", "assemblies", "family_assemblies", "assembly_parts", "wear")
# The list of loads tells of the folder as it is now, rows of later days among the rest.
_LOG = ("loads", "load_files", "records", "set_aside_rows", "mended_rows")

TABLES = {
    "jobs": Known(
        undated=WRITTEN_OF,
        later={"booked_on": (), "started_on": (), "delivered_on": ()},
        # The counter is read when the machine comes in: known earlier, it would tell that the machine will come.
        held={STARTED: ("plays", "plays_quality"), OVER: ("no_parts_used", "invoiced_amount", "warranty_days")},
        ahead=("planned_start_on", "promised_on"),
        told={"status": "state.status"}),
    "job_parts": Known(("used_on",), AFTER_CALLS.format("reason")),
    "offers": Known(("quoted_on",)),
    "orders": Known(("ordered_on",), held={GOODS_CAME: ("freight", "duty", "tax", "discount")}),
    "order_lines": Known(undated=WITH_ORDER, later={"received_on": ("received_pcs",)}),
    "receipts": Known(("received_on",)),
    "counts": Known(("counted_on",)),
    "stock_moves": Known(("moved_on",)),
    "job_hours": Known(("worked_on",), AFTER_CALLS.format("stage"), held={OVER: ("billed_hours",)}),
    # An amount is sure when it is paid; not paid yet, when the work was back, else when it was sent.
    "job_costs": Known(("paid_on", "back_on", "sent_on"), WITH_JOB, ahead=("due_on",)),
    # Nobody dates a finding, and teardown goes on after the start.
    "findings": Known(undated=WITH_JOB),
    "quote_lines": Known(("accepted_on",), WITH_JOB),
    "approvals": Known(("asked_on",), later={"answered_on": ("answer", "how", "by")}),
    "payments": Known(("paid_on",)),
    "callbacks": Known(("reported_on",)),
    "photos": Known(("taken_on",), WITH_JOB),
} | dict.fromkeys(_REGISTERS, Known(undated=STAYS)) | dict.fromkeys(_LOG, Known())
