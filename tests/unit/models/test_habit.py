"""Today's habit: what lay there on the day of each order, what was ordered, and parts never ordered."""

from numpy.testing import assert_array_equal

from pipeline.models import habit
from tests.support import hand_shop

PARTS = "part description\ncoil Coil\nlamp Lamp\nsleeve Sleeve"
ORDERS = "order_no vendor ordered_on\nP1 north 2025-01-20\nP2 north 2025-03-01\nP3 north 2025-06-01"


def levels(lines, counts="", parts=("coil", "lamp", "sleeve")):
    with hand_shop.store(parts=PARTS, vendors="vendor name\nnorth North", orders=ORDERS,
                         order_lines="order_no part qty_pcs unit_price received_on received_pcs\n" + lines,
                         **({"counts": "part counted_on qty_pcs\n" + counts} if counts else {})) as connection:
        return habit.levels(connection, list(parts))


def test_what_lay_there_on_the_day_of_the_order():
    # Five counted before the first order, fifteen after its ten came; the count of May comes after the second.
    left, top = levels("P1 coil 10 1 2025-02-01 10\nP2 coil 10 1 2025-03-10 10", "coil 2025-01-10 5\ncoil 2025-05-01 2")
    assert_array_equal(left, [(5 + 15) // 2, -1, -1])
    assert_array_equal(top, [10 + 10, 0, 0])


def test_the_count_of_the_order_s_own_day_tells():
    left, _ = levels("P1 coil 10 1 2025-02-01 10", "coil 2025-01-19 9\ncoil 2025-01-20 3\ncoil 2025-01-21 1")
    assert left[0] == 3


def test_the_middle_of_the_orders_not_their_mean():
    left, top = levels("P1 coil 4 1 - -\nP2 coil 6 1 - -\nP3 coil 100 1 - -",
                       "coil 2025-01-20 1\ncoil 2025-03-01 2\ncoil 2025-06-01 90")
    assert (left[0], top[0]) == (2, 2 + 6)


def test_a_part_never_ordered_is_bought_when_a_job_lacks_it():
    left, top = levels("P1 coil 10 1 2025-02-01 10", "lamp 2025-01-01 40")
    assert_array_equal(left[1:], [-1, -1])
    assert_array_equal(top[1:], [0, 0])


def test_of_a_part_never_counted_none_lay_there():
    left, top = levels("P1 lamp 2 1 - -")
    assert_array_equal(left, [-1, 0, -1])
    assert_array_equal(top, [0, 2, 0])


def test_less_than_none_on_the_books_is_none():
    with hand_shop.store(parts=PARTS, vendors="vendor name\nnorth North", orders=ORDERS, families="family name\nem E",
                         jobs="job family scope\nJ1 em thorough", job_parts="job part qty_pcs used_on\n"
                         "J1 coil 9 2025-01-12", counts="part counted_on qty_pcs\ncoil 2025-01-10 5",
                         order_lines="order_no part qty_pcs unit_price\nP1 coil 3 1") as connection:
        left, top = habit.levels(connection, ["coil"])
    assert (left[0], top[0]) == (0, 3)


def test_levels_come_in_the_order_of_the_parts_asked_for():
    lines = "P1 coil 10 1 - -\nP1 sleeve 4 1 - -"
    one, other = levels(lines), levels(lines, parts=("sleeve", "lamp", "coil"))
    assert_array_equal(one[1], [10, 0, 4])
    assert_array_equal(other[1], [4, 0, 10])


def test_a_shop_that_never_ordered_has_no_habit():
    with hand_shop.store(parts=PARTS) as connection:
        left, top = habit.levels(connection, ["coil"])
    assert (left[0], top[0]) == (-1, 0)
