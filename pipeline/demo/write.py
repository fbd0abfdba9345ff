"""Write rows as CSV, the same bytes on every machine."""

import csv
import json
from datetime import date

COLUMNS = {
    "shop": "key value",
    "families": "family name note",
    "machines": "machine family title year serial condition_in agreed_value",
    "parts": "part description wear_class supply shelf keep unit_cost",
    "aliases": "alias part",
    "interchange": "part can_replace condition",
    "companions": "trigger_part trigger_wear_class adds_part share per qty_pcs assembly",
    "vendors": "vendor name freight_flat freight_free_over minimum_order order_hours lead_time_days",
    "offers": "vendor part vendor_part pack_pcs pack_price from_packs quoted_on fit_hours reject_share available",
    "orders": "order_no vendor ordered_on freight duty tax tax_recoverable discount",
    "order_lines": "order_no part qty_pcs unit_price received_on received_pcs",
    "counts": "part counted_on qty_pcs shelf",
    "stock_moves": "part moved_on qty_pcs kind unit_cost amount grade owner note",
    "assemblies": "assembly name bench_hours installed_hours open_hours",
    "family_assemblies": "family assembly count",
    "assembly_parts": "assembly part family qty_pcs piece_hours thorough_action fix_only_action",
    "jobs": ("job family machine scope status booked_on planned_start_on promised_on started_on delivered_on setting"
             " plays plays_quality no_parts_used price_kind quoted_amount quoted_hours quoted_parts_amount"
             " invoiced_amount warranty_days customer_ref"),
    "job_parts": "job part qty_pcs used_on line assembly source reason",
    "job_hours": "job hours worked_on line stage assembly billed_hours",
    "job_costs": "job kind amount paid_on sent_on due_on back_on",
    "findings": "job assembly part qty_pcs condition action",
    "quote_lines": "job version option kind assembly part qty_pcs hours amount tax_class accepted_on",
    "approvals": "job asked_on what amount answered_on answer how by",
    "payments": "job paid_on amount kind",
    "callbacks": "job reported_on assembly part part_was cause hours parts_cost trip_cost charged_amount",
    "wear": "wear_class median_plays_new median_plays_kept median_months_new median_months_kept shape weight_jobs",
}


def cell(value):
    """Return a value as it is written: ISO days, no exponent, no trailing zeros, empty where unknown.

    Examples
    --------
    >>> [cell(v) for v in (None, 2.50, 3.0, 0.00125, "a")]
    ['', '2.5', '3', '0.00125', 'a']
    """
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = f"{value:.6f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text
    return str(value)


def csv_file(path, columns, rows):
    """Write rows (dicts) under the given columns; UTF-8, LF."""
    with open(path, "w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([[cell(row.get(column)) for column in columns] for row in rows])


def shop_folder(out_dir, tables):
    """Write every file of the shop folder that has rows."""
    out_dir.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        csv_file(out_dir / f"{name}.csv", COLUMNS[name].split(), rows)


def truth_folder(out_dir, tables, numbers):
    """Write the true parameters beside the records: ``truth/*.csv`` and ``truth/truth.json``."""
    folder = out_dir / "truth"
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        csv_file(folder / f"{name}.csv", list(rows[0]) if rows else ["none"], rows)
    with open(folder / "truth.json", "w", encoding="utf-8", newline="\n") as out:
        json.dump(numbers, out, indent=1, default=str)
        out.write("\n")
