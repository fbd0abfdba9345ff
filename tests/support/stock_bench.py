"""A bench of a few parts and two jobs: a store in memory, with short ways to write what moved and to read the book."""

from datetime import date

from pipeline.store import read

DAY = {n: date(2026, 1, n) for n in range(1, 32)}


class Bench:
    """A store in memory with a few parts and two jobs, and short ways to write in it."""

    def __init__(self, connection):
        self.connection, self.written = connection, 0
        connection.execute("insert into families (family, name) values ('em', 'EM')")
        connection.execute("insert into vendors (vendor, lead_time_days) values ('north', 5)")
        for part in ("coil", "bat", "lamp", "kit"):
            self.add("parts", part=part, description=part)
        self.add("jobs", job="J1", family="em", scope="thorough", started_on=DAY[2], delivered_on=DAY[28])
        self.add("jobs", job="J2", family="em", scope="fix_only")

    def add(self, table, **values):
        self.connection.execute(f"insert into {table} ({', '.join(values)}) values ({', '.join('?' * len(values))})",
                                list(values.values()))

    def row(self, table, **values):
        self.written += 1
        self.add(table, row_hash=str(self.written), recorded_in="folder", **values)

    def take(self, qty_pcs, day=10, part="coil", job="J1", **more):
        self.row("job_parts", job=job, part=part, qty_pcs=qty_pcs, used_on=day and DAY[day], **more)

    def move(self, kind, qty_pcs, day=5, part="coil", **more):
        self.row("stock_moves", part=part, moved_on=DAY[day], qty_pcs=qty_pcs, kind=kind, **more)

    def count(self, qty_pcs, day=20, part="coil", **more):
        self.row("counts", part=part, counted_on=DAY[day], qty_pcs=qty_pcs, **more)

    def order(self, number="P1", qty_pcs=10, day=3, ordered=1, part="coil", **more):
        self.add("orders", order_no=number, vendor="north", ordered_on=DAY[ordered])
        self.add("order_lines", order_no=number, part=part, qty_pcs=qty_pcs,
                 **({"unit_price": 2, "received_on": day and DAY[day]} | more))

    def rows(self, view, part="coil"):
        found = read.rows(self.connection, f"select * from {view} where part = ? order by all", [part])
        names = [column[0] for column in self.connection.description]
        return [dict(zip(names, row, strict=True)) for row in found]

    def ledger(self, part="coil"):
        """The terms of a part that are not 0, without their unit."""
        (row,) = self.rows("stock_ledger", part)
        return {name.removesuffix("_pcs"): value for name, value in row.items()
                if name.endswith("_pcs") and (value or name == "on_hand_pcs")}

    def below(self, part="coil"):
        """The one row of a part below none."""
        (row,) = self.rows("negative_positions", part)
        return row
