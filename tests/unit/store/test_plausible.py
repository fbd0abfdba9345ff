"""What a bench can have meant: the last day, the most in one row, the day behind a slip in the year."""

import datetime

import pytest

from pipeline.store import catalogue, plausible

LATEST = datetime.date(2036, 6, 15)


@pytest.mark.parametrize(("text", "meant"), [
    ("2205-03-09", "2025-03-09"),  # two digits changed places
    ("2052-03-09", "2025-03-09"),
    ("0225-03-09", "2025-03-09"),
    ("3025-03-09", "2025-03-09"),  # one digit wrong
    ("0126-03-09", ""),  # two digits wrong
    ("1026-03-09", "2026-03-09"),
    ("2920-07-01", "2020-07-01"),
    ("1026-09-09", "2016-09-09"),  # that of 2026 is still to come on 2026-06-15
    ("9999-12-31", ""),
])
def test_the_day_behind_a_slip_in_the_year(text, meant):
    assert plausible.did_you_mean(text, LATEST) == meant


def test_a_day_that_is_none_in_the_other_year_is_not_named():
    assert plausible.did_you_mean("2204-02-29", LATEST) == "2024-02-29"
    assert plausible.did_you_mean("2205-02-28", LATEST) == "2025-02-28"


def test_the_last_day_is_ten_years_after_today_and_no_clock_gone_wrong_moves_it_back():
    assert plausible.latest_on(datetime.date(2027, 5, 6)) == datetime.date(2037, 5, 6)
    assert plausible.latest_on(datetime.date(1970, 1, 1)) == datetime.date(2036, 1, 1)
    assert plausible.latest_on() >= datetime.date.today().replace(day=1)


def test_every_day_and_every_count_of_pieces_hours_days_and_games_has_its_bound():
    bound = {column.name: plausible.rule("counts", column, LATEST) for table in catalogue.tables().values()
             for column in table.file_columns}
    for name, found in bound.items():
        if name.endswith("_on"):
            assert found[0] == "implausible_day" and "from 1930-01-01 to 2036-06-15" in found[1]
        elif name.endswith(("_pcs", "hours", "_days")) or name.startswith(("plays", "median_plays")):
            assert (found is None) is (name == "plays_quality")
    assert bound["amount"] is bound["note"] is bound["plays_quality"] is bound["share"] is None
    column = next(column for column in catalogue.tables()["job_parts"].columns if column.name == "qty_pcs")
    assert " 1,000 pieces" in plausible.rule("job_parts", column, LATEST)[1]
    assert "100,000 pieces" in bound["qty_pcs"][1] and "36,525 days" in bound["lead_time_days"][1]
