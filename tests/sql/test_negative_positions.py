"""Why a book fell below none: by how much, since when, after which job, and the likely cause found in the records."""

import pytest

from pipeline.store import connect
from tests.support.stock_bench import DAY, Bench


@pytest.fixture
def bench():
    with connect.open_memory() as connection:
        yield Bench(connection)


class TestBelowNone:
    @pytest.fixture(autouse=True)
    def taken(self, bench):
        """The book of coil is at 1 from the first of the month; job J1 takes 3 on the tenth."""
        bench.move("opening", 1, day=1)
        bench.take(3)

    def test_by_how_much_since_when_and_after_which_job_is_told(self, bench):
        bench.take(1, day=10, job="J2")
        bench.take(4, day=12, job="J2")
        row = bench.below()
        assert (row["on_hand_pcs"], row["lowest_pcs"], row["below_since_on"]) == (-7, -7, DAY[10])
        assert (row["after_job"], row["is_below_now"], row["until_on"], row["spells"]) == ("J1", True, None, 1)

    def test_something_else_than_a_taking_may_have_taken_it_below(self, bench):
        bench.move("opening", 5, day=2)
        bench.move("sold", -5, day=11)
        row = bench.below()
        assert (row["below_since_on"], row["after_job"]) == (DAY[11], None)

    def test_back_to_none_or_more_ends_it(self, bench):
        bench.count(1, day=2)
        bench.move("found", 2, day=15)
        row = bench.below()
        assert (row["on_hand_pcs"], row["lowest_pcs"], row["until_on"]) == (0, -2, DAY[15])
        assert not row["is_below_now"]
        assert bench.rows("stock_position")[0]["doubt"] == "more was taken at one time than was there: count it"

    def test_a_count_ends_it_and_the_position_is_in_no_doubt_any_more(self, bench):
        bench.count(0)
        row = bench.below()
        assert (row["on_hand_pcs"], row["until_on"], row["is_since_count"]) == (0, DAY[20], False)
        assert bench.rows("stock_position")[0]["doubt"] is None

    def test_the_stretch_that_lasts_is_told_before_a_deeper_one(self, bench):
        bench.take(50, day=11)
        bench.count(1, day=12)
        bench.take(2, day=14)
        row = bench.below()
        assert (row["lowest_pcs"], row["below_since_on"], row["spells"]) == (-1, DAY[14], 2)

    def test_the_stretch_since_the_count_is_told_before_a_deeper_one(self, bench):
        bench.take(50, day=11)
        bench.count(1, day=12)
        bench.take(2, day=14)
        bench.move("found", 3, day=15)
        assert bench.below()["below_since_on"] == DAY[14]

    def test_without_a_clue_it_says_count_it(self, bench):
        row = bench.below()
        assert (row["cause"], row["other_causes"]) == ("count it", None)
        assert row["likely_cause"] == "nothing in the records explains it: count it"
        assert bench.rows("stock_position")[0]["doubt"] == "more taken than was there: count it"

    @pytest.mark.parametrize(("cause", "words", "write"), [
        ("a delivery without its day", "order P1 has pieces received on no day (2)",
         lambda bench: bench.order(qty_pcs=5, day=None, received_pcs=2)),
        ("an order still open has come",
         "order P1 of 2026-01-01 has pieces still to come (5) beyond the days north usually takes (5)",
         lambda bench: bench.order(qty_pcs=5, day=None)),
        ("a delivery booked in late",
         "order P1 is booked in on 2026-01-12, later than the days north usually takes (5)",
         lambda bench: (bench.order(day=12), [bench.order(f"Q{n}", 1, 6, part="bat") for n in range(3)])),
        ("an interchanging part was taken", "bat, which interchanges with it, was counted above its book (2) on "
         "2026-01-15", lambda bench: (bench.add("interchange", part="bat", can_replace="coil"),
                                      bench.move("opening", 3, day=1, part="bat"), bench.count(5, day=15, part="bat"))),
        ("salvage or made pieces written as new", "that nobody put on the shelf (2)",
         lambda bench: bench.take(2, day=25, source="salvage")),
        ("a taking written twice", "job J1 has the same taking of 3 on 2026-01-10 more than once",
         lambda bench: (bench.take(3, line=2), bench.move("found", 2, day=2))),
        ("pieces came that nobody wrote down", "the count of 2026-01-20 found more than the book had (6)",
         lambda bench: bench.count(4)),
    ])
    def test_the_likely_cause_is_found_in_the_records(self, bench, cause, words, write):
        write(bench)
        row = bench.below()
        assert row["cause"] == cause and words in row["likely_cause"]

    def test_a_pack_entered_as_pieces_is_found_on_its_order(self, bench):
        bench.add("offers", vendor="north", part="coil", pack_pcs=10, pack_price=5)
        bench.order(qty_pcs=1, unit_price=4.8)
        row = bench.below()
        assert row["cause"] == "a pack entered as pieces" and row["lowest_pcs"] == -1
        assert row["likely_cause"] == "order P1 has 1 at the price of a pack of 10: it may have brought 10 pieces"

    def test_the_count_before_it_may_have_missed_some(self, bench):
        bench.move("opening", 5, day=1)
        bench.count(1, day=4)
        row = bench.below()
        assert row["cause"] == "the count before it missed some"
        assert "count of 2026-01-04 found fewer than the book had (5)" in row["likely_cause"]

    @pytest.mark.parametrize("write", [
        lambda bench: bench.order(qty_pcs=1, day=None),  # too few to cover what is short
        lambda bench: bench.order(qty_pcs=5, day=None, ordered=6),  # not yet old enough on the tenth
        lambda bench: bench.order(qty_pcs=5, day=None, ordered=11, received_pcs=3),  # ordered after the taking
        lambda bench: bench.take(1, day=25, source="salvage"),
        lambda bench: bench.take(2, day=25, source="customer"),
        lambda bench: (bench.move("opening", 3, day=1, part="bat"),  # a part that does not interchange with it
                       bench.count(5, day=15, part="bat")),
    ])
    def test_what_cannot_have_caused_it_is_not_named(self, bench, write):
        write(bench)
        assert bench.below()["cause"] == "count it"

    def test_the_most_telling_cause_goes_first_and_the_others_beside_it(self, bench):
        bench.take(2, day=25, source="salvage")
        bench.order(qty_pcs=5, day=None)
        row = bench.below()
        assert row["cause"] == "an order still open has come"
        assert row["other_causes"] == "salvage or made pieces written as new"
        assert bench.rows("stock_position")[0]["doubt"] == (
            "more taken than was there: perhaps an order still open has come")

    def test_two_takings_of_a_day_in_two_places_are_not_one_written_twice(self, bench):
        bench.take(1, assembly="flipper")
        bench.take(1, assembly="bumper")
        assert bench.below()["cause"] == "count it"

    def test_a_taking_written_twice_before_a_count_explains_nothing_after_it(self, bench):
        bench.take(3, line=2)
        bench.count(1, day=12)
        bench.take(2, day=14)
        assert bench.below()["cause"] != "a taking written twice"


def test_never_counted_before_the_first_taking_is_a_cause_of_its_own(bench):
    bench.take(3, day=4)
    bench.order(day=8, ordered=7)
    row = bench.below()
    assert (row["cause"], row["lowest_pcs"]) == ("pieces there before anyone counted", -3)
    # a part that is there by the book now keeps the doubt that it was never counted
    assert bench.rows("stock_position")[0]["doubt"] == "never counted: reckoned from what came and went"
    bench.take(9, day=9)
    assert bench.rows("stock_position")[0]["doubt"] == (
        "more taken than was there: perhaps pieces there before anyone counted")
