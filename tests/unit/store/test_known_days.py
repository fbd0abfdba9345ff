"""Every table of the store has its rule, and every day in it a place; a table or a day to come is not forgotten."""

import pytest

from pipeline.store import catalogue, known_days

TABLES = catalogue.tables()


def days_without_place(table, rule):
    """Columns of a table that hold a day and of which its rule says nothing."""
    days = {column.name for column in table.columns if column.type in ("DATE", "TIMESTAMP")}
    return days - {*rule.days, *rule.ahead}


def test_every_table_of_the_store_has_its_rule():
    assert set(known_days.TABLES) == set(catalogue.every_table())


@pytest.mark.parametrize("name", TABLES)
def test_every_day_of_a_table_has_its_place(name):
    assert days_without_place(TABLES[name], known_days.TABLES[name]) == set()


@pytest.mark.parametrize("name", ["jobs", "job_parts", "offers", "approvals"])
def test_a_rule_that_forgets_the_days_is_found(name):
    assert days_without_place(TABLES[name], known_days.Known(undated=known_days.STAYS))


@pytest.mark.parametrize("name", TABLES)
def test_a_rule_names_columns_that_are_there_each_once(name):
    rule = known_days.TABLES[name]
    named = [*rule.days, *rule.ahead, *rule.told, *(column for columns in
             (*rule.later.values(), *rule.held.values()) for column in columns)]
    assert set(named) <= {column.name for column in TABLES[name].columns}
    assert len(named) == len(set(named))


def test_a_register_has_no_days():
    assert not [name for name, rule in known_days.TABLES.items() if rule.is_register and (rule.days or rule.ahead)]


def test_the_days_ahead_are_those_that_do_not_count_as_done():
    # The same that read.last_date leaves out.
    ahead = {column for rule in known_days.TABLES.values() for column in rule.ahead}
    assert ahead == {"planned_start_on", "promised_on", "due_on"}
