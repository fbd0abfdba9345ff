"""What the view of counter sales answers: grain and values on a few stock moves written by hand."""

import datetime

from pipeline.store import read
from tests.support import hand_shop

MOVES = """part moved_on qty_pcs kind owner
coil 2025-12-01 9 opening -
coil 2026-01-05 -2 sold -
coil 2026-01-05 -1 sold shop
coil 2026-01-06 -1 sold customer
coil 2026-01-07 -1 written_off -
lamp 2026-01-05 -4 sold -"""


def test_sales_are_added_up_by_part_and_day_and_others_pieces_left_out():
    with hand_shop.store(parts="part description\ncoil Coil\nlamp Lamp", stock_moves=MOVES) as connection:
        rows = read.rows(connection, "from counter_sales order by part, sold_on")
    first, watched = datetime.date(2026, 1, 5), datetime.date(2025, 12, 1)
    assert rows == [("coil", first, 3, 2, watched), ("lamp", first, 4, 1, watched)]
    assert len({row[:2] for row in rows}) == len(rows)
