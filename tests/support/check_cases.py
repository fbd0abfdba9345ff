"""A sound little shop in SQL, and for each row check what breaks it and the one row it then returns."""

BASE = """
insert into families values ('em', 'EM', null, null), ('ss', 'SS', null, null);
insert into parts (part, description, unit_cost) values ('coil', 'C', 1), ('lamp', 'L', null), ('bat', 'B', 1);
insert into machines (machine, family) values ('M1', 'em');
insert into assemblies (assembly) values ('flipper');
insert into vendors (vendor) values ('north');
insert into orders (order_no, vendor, ordered_on) values ('P1', 'north', date '2025-01-05');
insert into jobs (job, family, scope, started_on, delivered_on, invoiced_amount, machine)
    values ('J1', 'em', 'fix_only', date '2025-01-01', date '2025-01-20', 100, 'M1');
insert into job_parts (row_hash, job, part, qty_pcs, assembly, recorded_in)
    values ('1', 'J1', 'coil', 1, 'flipper', 'folder');
insert into job_hours (row_hash, job, hours, recorded_in) values ('1', 'J1', 2, 'folder')
"""
DELIVERED = (
    "insert into jobs (job, family, scope, delivered_on, invoiced_amount, no_parts_used) values ('J2', 'em',"
    " 'refresh', date '2025-02-01', {invoiced}, {none_used})"
)
PACK = "insert into offers (vendor, part, pack_pcs, pack_price) values ('north', 'coil', 10, 5); "
LINE = "insert into order_lines (order_no, part, qty_pcs, unit_price, received_on, received_pcs) values ('P1', 'coil', "
RECEIPT = "insert into receipts (row_hash, order_no, part, received_on, received_pcs, recorded_in) values "
MOVE = "insert into stock_moves (row_hash, part, moved_on, qty_pcs, kind, recorded_in) values "
COUNT = "insert into counts (row_hash, part, counted_on, qty_pcs, recorded_in) values "
TAKEN = "insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in) values "
HELD = (
    "insert into family_assemblies (family, assembly, count) values ('em', 'flipper', 2);"
    " insert into assembly_parts (assembly, part, qty_pcs) values ('flipper', 'coil', 2);"
    " insert into jobs (job, family, scope) values ('J3', 'em', 'fix_only'); "
)
OPENED = MOVE + "('0', 'coil', date '2025-01-01', {pcs}, 'opening', 'folder'); "
MANY = (
    "insert into orders (order_no, vendor, ordered_on) select 'Q' || i, 'north', date '2025-01-01' + i::int"
    " from range(3) t(i); insert into order_lines (order_no, part, qty_pcs, unit_price, received_on)"
    " select 'Q' || i, 'coil', 1, 2 + i * 0.1, date '2025-01-08' + i::int from range(3) t(i); "
)
# Check: what breaks it, and the one row it returns (file, column, value, some words of the advice).
BROKEN = {
    "callback_before_delivery": (
        "insert into callbacks (row_hash, job, reported_on, recorded_in)"
        " values ('1', 'J1', date '2025-01-15', 'folder')",
        ("callbacks.csv", "reported_on", "J1: 2025-01-15", "reported 5 days before"),
    ),
    "delivered_without_hours": (
        DELIVERED.format(invoiced=1, none_used="'yes'"),
        ("jobs.csv", "job", "J2", "no hours are recorded"),
    ),
    "delivered_without_invoice": (
        DELIVERED.format(invoiced="null", none_used="'yes'")
        + "; insert into job_hours (row_hash, job, hours, recorded_in) values ('2', 'J2', 2, 'folder')",
        ("jobs.csv", "invoiced_amount", "J2", "margin stays unknown"),
    ),
    "delivered_without_parts": (
        DELIVERED.format(invoiced=1, none_used="null")
        + "; insert into job_hours (row_hash, job, hours, recorded_in) values ('2', 'J2', 2, 'folder')",
        ("jobs.csv", "job", "J2", "write no_parts_used = yes"),
    ),
    "offer_at_no_price": (
        "insert into offers (vendor, part, pack_pcs, pack_price, from_packs, quoted_on) values"
        " ('north', 'coil', 10, 0, 5, date '2025-02-01'), ('north', 'coil', 10, 9, 1, date '2025-02-01'),"
        " ('north', 'lamp', 1, 0, 1, date '2025-01-01'), ('north', 'lamp', 1, 2, 1, date '2025-02-01')",
        ("offers.csv", "pack_price", "north, coil: pack of 10, from 5 packs", "0 is no price: the offer is left out"),
    ),
    "free_freight_below_minimum": (
        "insert into vendors (vendor, freight_flat, freight_free_over, minimum_order) values ('east', 9, 20, 60),"
        " ('south', 9, 60, 20), ('west', 0, 20, 60)",
        ("vendors.csv", "freight_free_over", "east: 20.00", "no order below 60.00, so none pays freight"),
    ),
    "part_without_price": (
        "insert into job_parts (row_hash, job, part, qty_pcs, recorded_in) values ('2', 'J1', 'lamp', 1, 'folder')",
        ("parts.csv", "unit_cost", "lamp", "what it costs stays unknown"),
    ),
    "received_before_ordered": (
        "insert into order_lines (order_no, part, qty_pcs, unit_price, received_on) values"
        " ('P1', 'coil', 5, 1, date '2025-01-04')",
        ("order_lines.csv", "received_on", "P1, coil: 2025-01-04", "before it was ordered on 2025-01-05"),
    ),
    "received_more_than_ordered": (
        "insert into order_lines (order_no, part, qty_pcs, unit_price, received_on, received_pcs) values"
        " ('P1', 'coil', 5, 1, date '2025-01-06', 50)",
        ("order_lines.csv", "received_pcs", "P1, coil: 50", "ordered were 5; a pack entered as a piece?"),
    ),
    "received_without_day": (
        "insert into order_lines (order_no, part, qty_pcs, unit_price, received_pcs) values ('P1', 'coil', 5, 1, 3)",
        ("order_lines.csv", "received_on", "P1, coil: 3 received", "all 5 count as still on order"),
    ),
    "returned_more_than_taken": (
        "insert into job_parts (row_hash, job, part, qty_pcs, recorded_in) values ('2', 'J1', 'coil', -3, 'folder')",
        ("job_parts.csv", "qty_pcs", "J1, coil: -2", "more pieces went back"),
    ),
    "setting_of_unknown_kind": (
        "insert into shop values ('bays', 'two', null)",
        ("shop.csv", "bays", "two", "wanted a number, 0 or more, as 12.5; until then the default 2 is used"),
    ),
    "family_differs_from_machine": (
        "insert into jobs (job, family, scope, machine) values ('J2', 'ss', 'refresh', 'M1')",
        ("jobs.csv", "family", "J2: ss", "machine M1 is of family em"),
    ),
    "machine_not_listed": (
        "insert into jobs (job, family, scope, machine)"
        " values ('J2', 'ss', 'refresh', 'M9'), ('J3', 'ss', 'refresh', 'M9')",
        ("jobs.csv", "machine", "M9", "its 2 jobs"),
    ),
    "assembly_not_listed": (
        "insert into job_parts (row_hash, job, part, qty_pcs, assembly, recorded_in)"
        " values ('2', 'J1', 'coil', 3, 'flapper', 'folder')",
        ("job_parts.csv", "assembly", "flapper", "1 rows: add it there or mend the spelling"),
    ),
    "callback_on_job_not_delivered": (
        "insert into jobs (job, family, scope, started_on) values ('J2', 'em', 'refresh', date '2025-01-02');"
        " insert into callbacks (row_hash, job, reported_on, recorded_in) values"
        " ('1', 'J2', date '2025-01-15', 'folder'), ('2', 'J2', date '2025-01-16', 'folder')",
        ("callbacks.csv", "job", "J2", "the job is in progress, so nothing can have come back"),
    ),
    "count_far_from_book": (
        OPENED.format(pcs=20) + COUNT + "('1', 'coil', date '2025-01-22', 9, 'folder')",
        ("counts.csv", "qty_pcs", "coil, 2025-01-22: 9", "the book had 19: count it again"),
    ),
    "count_in_packs": (
        PACK + OPENED.format(pcs=80) + COUNT + "('1', 'coil', date '2025-01-22', 8, 'folder')",
        ("counts.csv", "qty_pcs", "coil, 2025-01-22: 8", "the book had 79; packs of 10 counted as pieces?"),
    ),
    "kit_opened_on_one_side": (
        MOVE + "('1', 'coil', date '2025-01-05', 4, 'kit_opened', 'folder'),"
        " ('2', 'lamp', date '2025-01-05', 2, 'kit_opened', 'folder')",
        ("stock_moves.csv", "qty_pcs", "2025-01-05: coil 4, lamp 2", "add the kit itself with -"),
    ),
    "line_and_receipts_differ": (
        LINE + "8, 1, date '2025-01-09', null); " + RECEIPT + "('1', 'P1', 'coil', date '2025-01-09', 5, 'folder')",
        ("order_lines.csv", "received_pcs", "P1, coil: 8", "its receipts bring 5, and they count"),
    ),
    "more_taken_than_was_there": (
        OPENED.format(pcs=2) + TAKEN + "('2', 'J1', 'coil', 4, date '2025-01-12', 'folder')",
        ("job_parts.csv", "qty_pcs", "coil: -3", "below none since 2025-01-12 (job J1); nothing in the records"),
    ),
    "opening_after_count": (
        COUNT + "('1', 'coil', date '2024-12-01', 9, 'folder'); " + OPENED.format(pcs=4),
        ("stock_moves.csv", "moved_on", "coil: 2025-01-01", "was counted on 2024-12-01 already"),
    ),
    "pack_entered_as_pieces": (
        PACK + LINE + "3, 4.8, date '2025-01-09', null)",
        ("order_lines.csv", "unit_price", "P1, coil: 3 at 4.80", "a pack of 10 from north (5.00); packs entered as "
         "pieces? then 30 pieces at 0.48"),
    ),
    "paid_beyond_invoice": (
        "insert into payments (row_hash, job, paid_on, amount, kind, recorded_in) values"
        " ('1', 'J1', date '2025-01-20', 126, 'balance', 'folder')",
        ("payments.csv", "amount", "J1: 126.00", "the invoice is 100.00: a payment written twice"),
    ),
    "part_replaces_itself": (
        "insert into interchange (part, can_replace) values ('coil', 'coil'), ('coil', 'lamp'), ('lamp', 'coil')",
        ("interchange.csv", "can_replace", "coil", "which other part was meant?"),
    ),
    "price_far_from_usual": (
        MANY + LINE + "2, 6.31, date '2025-01-09', null)",
        ("order_lines.csv", "unit_price", "P1, coil: 6.31", "the middle of 3 other purchases is 2.10; a slip"),
    ),
    "receipt_of_part_not_ordered": (
        RECEIPT + "('1', 'P1', 'lamp', date '2025-01-09', 5, 'folder'),"
        " ('2', 'P1', 'lamp', date '2025-01-10', 1, 'folder')",
        ("receipts.csv", "part", "P1, lamp: 6", "the order lists no such part"),
    ),
    "receipts_more_than_ordered": (
        LINE + "8, 1, null, null); " + RECEIPT + "('1', 'P1', 'coil', date '2025-01-09', 5, 'folder'),"
        " ('2', 'P1', 'coil', date '2025-01-10', 5, 'folder')",
        ("receipts.csv", "received_pcs", "P1, coil: 10 in 2", "ordered were 8; the same delivery written twice?"),
    ),
    "received_in_packs": (
        PACK + LINE + "3, 0.5, date '2025-01-09', 30)",
        ("order_lines.csv", "qty_pcs", "P1, coil: 3", "received were 30, which is 3 packs of 10"),
    ),
    "returned_without_credit": (
        OPENED.format(pcs=5) + MOVE + "('1', 'coil', date '2025-01-06', -2, 'returned_to_vendor', 'folder')",
        ("stock_moves.csv", "amount", "coil: 2 on 2025-01-06", "write the credit, or 0"),
    ),
    "same_receipt_in_two_orders": (
        LINE + "4, 2, date '2025-01-09', null); " + MANY + "update order_lines set qty_pcs = 4, received_on ="
        " date '2025-01-09' where order_no = 'Q0'",
        ("order_lines.csv", "received_on", "coil: 4 on 2025-01-09", "came from north in orders P1, Q0"),
    ),
    "sold_without_amount": (
        OPENED.format(pcs=5) + MOVE + "('1', 'coil', date '2025-01-06', -2, 'sold', 'folder')",
        ("stock_moves.csv", "amount", "coil: 2 on 2025-01-06", "what it brought stays unknown"),
    ),
    "taken_far_above_holding": (
        HELD + TAKEN + "('2', 'J1', 'coil', 8, date '2025-01-12', 'folder'),"
        " ('3', 'J3', 'coil', 4, date '2025-01-12', 'folder')",
        ("job_parts.csv", "qty_pcs", "J1, coil: 9", "a machine of em holds 4, and no other job took more than 4"),
    ),
    "used_but_never_counted": (
        COUNT + "('1', 'coil', date '2025-01-22', 9, 'folder'), ('2', 'bat', date '2025-01-22', 9, 'folder'); "
        "insert into parts (part, description, unit_cost) values ('post', 'P', 1); " + TAKEN
        + "('2', 'J1', 'post', 1, date '2025-01-12', 'folder'), ('3', 'J1', 'bat', 1, date '2025-01-12', 'folder')",
        ("counts.csv", "part", "post", "it was never counted"),
    ),
    "day_far_after_all_others": (
        "insert into job_parts (row_hash, job, part, qty_pcs, used_on, recorded_in)"
        " values ('2', 'J1', 'coil', 3, date '2052-01-10', 'folder')",
        ("job_parts.csv", "used_on", "2052-01-10", "is 2025-01-20; a slip in the year?"),
    ),
}
