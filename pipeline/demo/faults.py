"""Faults a person makes when keeping records, planted on purpose and listed."""

from pipeline.demo.owner import ALIASES
from pipeline.demo.world import stream


class Planter:
    """Plants faults in the tables of a shop folder and remembers each.

    Parameters
    ----------
    rng : numpy.random.Generator
    tables : dict of str to list of dict
        Changed in place.
    """

    def __init__(self, rng, tables):
        self.rng, self.tables, self.planted, self._spent = rng, tables, [], set()

    def pick(self, name, fits):
        """Return a row of a table that fits and has no fault yet, or None."""
        rows = [row for row in self.tables[name] if id(row) not in self._spent and fits(row)]
        if not rows:
            return None
        row = rows[int(self.rng.integers(len(rows)))]
        self._spent.add(id(row))
        return row

    def spoil(self, name, column, value, rule, outcome, fits=lambda row: True):
        """Write a faulty value into one row that fits."""
        row = self.pick(name, fits)
        if row is not None:
            self.planted.append((name, row, column, row[column], value, rule, outcome))
            row[column] = value

    def double(self, name, fits=lambda row: True):
        """Write one row down twice."""
        row = self.pick(name, fits)
        if row is not None:
            place = next(i for i, other in enumerate(self.tables[name]) if other is row)
            again = dict(row)
            self.tables[name].insert(place + 1, again)
            self._spent.add(id(again))
            self.planted.append((name, again, "", "", "", "double", "set_aside"))

    def lose(self, name, fits):
        """Forget one row altogether; return it (dict or None)."""
        row = self.pick(name, fits)
        if row is not None:
            self.tables[name] = [other for other in self.tables[name] if other is not row]
        return row

    def listed(self):
        """Return every planted fault with its line in the file as written (list of dict)."""
        place = {name: {id(row): i + 2 for i, row in enumerate(rows)} for name, rows in self.tables.items()}
        faults = [{"file": f"{name}.csv", "line": place[name][id(row)], "column": column, "value": value,
                   "true_value": true, "rule": rule, "outcome": outcome}
                  for name, row, column, true, value, rule, outcome in self.planted]
        return sorted(faults, key=lambda fault: (fault["file"], fault["line"]))


def plant(seed, tables):
    """Plant the faults (list of dict as in ``truth/faults.csv``, and list of forgotten purchases)."""
    planter = Planter(stream(seed, "faults"), tables)
    _job_parts(planter)
    _other_files(planter)
    slips = [_slip(planter.lose("order_lines", _plentiful)) for _ in range(2)]
    return planter.listed(), [slip for slip in slips if slip]


def _job_parts(planter):
    one = {"fits": lambda row: row["qty_pcs"] == 1}
    for value, rule, fits in (("", "required", one), ("", "required", {}), ("two", "whole_number", {}),
                              ("a few", "whole_number", {}), ("1,5", "whole_number", one), ("0", "not_zero", one)):
        planter.spoil("job_parts", "qty_pcs", value, rule, "set_aside", **fits)
    planter.spoil("job_parts", "part", "coil-flipp-big", "unknown_part", "set_aside",
                  lambda row: row["part"].startswith("coil"))
    planter.spoil("job_parts", "part", "sleeve brass", "unknown_part", "set_aside",
                  lambda row: row["part"].startswith("sleeve"))
    planter.spoil("job_parts", "job", "W22-900", "unknown_job", "set_aside")
    planter.spoil("job_parts", "used_on", "2025-02-30", "date", "set_aside",
                  lambda row: str(row["used_on"]).startswith("2025-02"))
    planter.double("job_parts", lambda row: row["line"] == "" and isinstance(row["qty_pcs"], int))
    for alias, part in ALIASES[:8]:
        planter.spoil("job_parts", "part", alias, "alias", "repaired", lambda row, part=part: row["part"] == part)
    for change, rule in ((str.upper, "spelling"), (lambda text: f"{text} ", "blanks")):
        row = planter.pick("job_parts", lambda row: row["part"] in ("ring-small", "skirt-jet", "bushing-flip"))
        if row is not None:
            planter.planted.append(("job_parts", row, "part", row["part"], change(row["part"]), rule, "repaired"))
            row["part"] = change(row["part"])


def _other_files(planter):
    planter.spoil("jobs", "family", "Dot Matrix", "unknown_family", "set_aside",
                  lambda row: (row["status"] == "declined" and row["family"] == "dotmatrix"
                               and _is_childless(planter, row)))
    planter.spoil("counts", "qty_pcs", "lots", "whole_number", "set_aside",
                  lambda row: row["part"] in ("screw-wood", "washer-nylon", "terminal-crimp"))
    planter.spoil("counts", "qty_pcs", "", "required", "set_aside")
    planter.spoil("callbacks", "reported_on", "2026-06-31", "date", "set_aside",
                  lambda row: str(row["reported_on"]).startswith("202"))
    row = planter.pick("job_costs", lambda row: row["kind"] == "freight" and row["amount"] > 100)
    if row is not None:
        comma = f"{row['amount']:.2f}".replace(".", ",")
        planter.planted.append(("job_costs", row, "amount", row["amount"], comma, "decimal_comma", "repaired"))
        row["amount"] = comma
    planter.spoil("job_hours", "hours", "half day", "number", "set_aside", lambda row: row["hours"] == 3.5)


def _is_childless(planter, row):
    return not any(other["job"] == row["job"] for name in ("quote_lines", "payments", "approvals")
                   for other in planter.tables[name])


def _plentiful(row):
    return row["received_pcs"] is not None and 10 <= row["received_pcs"] <= 40 and str(row["received_on"]) < "2025"


def _slip(row):
    return row and {"file": "order_lines.csv", "order_no": row["order_no"], "part": row["part"],
                    "received_pcs": row["received_pcs"], "what": "bought and used, never written down"}
