"""Every piece counted again in plain Python, event by event, from the rows a store holds: SQL only reads."""

from collections import defaultdict

from pipeline.store import read

TABLES = ("parts", "jobs", "job_parts", "order_lines", "receipts", "stock_moves", "counts")
IN = ("opening", "implied_opening", "received", "made", "harvested", "found", "kit_in", "count_gain")
OUT = ("used", "sold", "written_off", "returned_to_vendor", "kit_out", "count_loss")


def rows_of(connection):
    """Return the rows of the tables that pieces move in (dict of str to list of dict)."""
    found = {}
    for table in TABLES:
        rows = read.rows(connection, f"select * from main.{table}")
        names = [column[0] for column in connection.description]
        found[table] = [dict(zip(names, row, strict=True)) for row in rows]
    return found


def recount(rows):
    """Count every part again; return part to its :class:`Part`."""
    parts = {row["part"]: Part() for row in rows["parts"]}
    _deliveries(parts, rows)
    _takings(parts, rows)
    for move in rows["stock_moves"]:
        if move["owner"] != "customer":
            parts[move["part"]].moves.append((move["moved_on"], *_term(move["kind"], move["qty_pcs"])))
            if move["kind"] == "returned_to_vendor" and move["amount"] is not None:
                parts[move["part"]].credits.append(move["amount"])
    for count in rows["counts"]:
        parts[count["part"]].counted[count["counted_on"]] += count["qty_pcs"]
    for part in parts.values():
        part.run()
    return parts


class Part:
    """One part: its moves (day or None, term, pieces), what each day of counting found, and its book by day."""

    def __init__(self):
        self.moves, self.counted, self.credits, self.never_shelved = [], defaultdict(int), [], 0
        self.terms, self.on_hand, self.days, self.lowest = dict.fromkeys(IN + OUT, 0), None, {}, {}

    def run(self):
        """Go through the days, first to last; ``days`` keeps (on hand, terms so far) after each."""
        first = min(self.counted, default=None)
        is_opened = any(term == "opening" and (first is None or day <= first) for day, term, _ in self.moves)
        if first is None and not any(term in IN for _, term, _ in self.moves):
            # nothing to begin with: what went is known, what is there is not
            for _, term, pcs in self.moves:
                self.terms[term] += pcs
            self.terms["implied_opening"] = None
            return
        by_day = self._by_day(first)
        if first is not None and not is_opened:
            before = sum(_signed(term, pcs) for day in by_day if day <= first for term, pcs in by_day[day])
            self.terms["implied_opening"] = max(0, self.counted[first] - before)
        shelf = self.terms["implied_opening"]
        for day in sorted(by_day.keys() | self.counted.keys()):
            for term, pcs in by_day[day]:
                self.terms[term] += pcs
                shelf += _signed(term, pcs)
            self.lowest[day] = shelf
            if day in self.counted:
                found = self.counted[day]
                self.terms["count_gain"] += max(found - shelf, 0)
                self.terms["count_loss"] += max(shelf - found, 0)
                shelf = found
            self.days[day] = shelf, dict(self.terms)
        self.on_hand = shelf

    def _by_day(self, first):
        """Moves by day; one without a day comes just before the first count, else on the last day anything moved."""
        last = max((day for day, _, _ in self.moves if day is not None), default=None)
        by_day = defaultdict(list)
        for day, term, pcs in self.moves:
            by_day[day if day is not None else first if first is not None else last].append((term, pcs))
        return by_day


def _deliveries(parts, rows):
    in_parts = {(row["order_no"], row["part"]) for row in rows["receipts"]}
    for row in rows["receipts"]:
        parts[row["part"]].moves.append((row["received_on"], "received", row["received_pcs"]))
    for line in rows["order_lines"]:
        if line["received_on"] is not None and (line["order_no"], line["part"]) not in in_parts:
            pcs = line["qty_pcs"] if line["received_pcs"] is None else line["received_pcs"]
            if pcs:
                parts[line["part"]].moves.append((line["received_on"], "received", pcs))


def _takings(parts, rows):
    jobs = {row["job"]: row for row in rows["jobs"]}
    shelved = {(row["part"], {"harvested": "salvage", "made": "made"}[row["kind"]]) for row in rows["stock_moves"]
               if row["kind"] in ("harvested", "made") and row["owner"] != "customer"}
    for row in rows["job_parts"]:
        source, job = row["source"] or "new", jobs[row["job"]]
        if source == "new" or (row["part"], source) in shelved:
            day = next((one for one in (row["used_on"], job["delivered_on"], job["started_on"], job["booked_on"])
                        if one is not None), None)
            parts[row["part"]].moves.append((day, "used", row["qty_pcs"]))
        else:
            parts[row["part"]].never_shelved += row["qty_pcs"]


def _term(kind, qty_pcs):
    if kind == "kit_opened":
        return ("kit_in", qty_pcs) if qty_pcs > 0 else ("kit_out", -qty_pcs)
    return kind, abs(qty_pcs)


def _signed(term, pcs):
    return pcs if term in IN else -pcs


def balance(terms, on_hand):
    """Return what came in less what went out and is left (int): 0 where every piece is told."""
    return sum(terms[term] for term in IN) - sum(terms[term] for term in OUT) - on_hand
