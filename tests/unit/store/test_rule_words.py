"""Every rule of the catalogue has words of its own."""

import pandas as pd
import pytest

from pipeline.store import catalogue, connect, rule_words, validate
from pipeline.store.catalogue import Column

CHECKS = [(table.name, text, columns) for table in catalogue.tables().values() for text, columns in table.checks]


@pytest.mark.parametrize(
    ("name", "text", "columns"), CHECKS, ids=[f"{name}-{columns[0]}" for name, _, columns in CHECKS]
)
def test_no_check_of_the_schema_is_without_words(name, text, columns):
    rule, words = rule_words.check(text, columns)
    assert rule != "rule", f"{name}: {text} has no words"
    assert text not in words


@pytest.mark.parametrize(("text", "columns", "expected"), [
    ("(qty_pcs >= 0)", ("qty_pcs",), ("range", "wanted a whole number of pieces, 0 or more")),
    ("(qty_pcs > 0)", ("qty_pcs",), ("range", "wanted a whole number of pieces more than 0")),
    ('("hours" > 0)', ("hours",), ("range", "wanted a number more than 0")),
    ('("share" BETWEEN 0 AND 1)', ("share",), ("range", "wanted a number from 0 to 1")),
    ("(per IN ('piece', 'machine'))", ("per",), ("allowed_values", "wanted one of piece, machine")),
    ("((a IS NOT NULL) OR (b IS NOT NULL))", ("a", "b"), ("required", "wanted a value in a or b")),
    ("(answered_on >= asked_on)", ("answered_on", "asked_on"),
     ("order_of_days", "answered_on must not be before asked_on")),
    ("((a % 2) = 0)", ("a",), ("rule", "wanted ((a % 2) = 0)")),
    ("((qty_pcs > 0) OR (NOT (kind IN ('made', 'found', 'opening'))))", ("qty_pcs", "kind"),
     ("sign_of_kind", "made, found and opening put pieces on the shelf: wanted more than 0, as 2")),
    ("((qty_pcs < 0) OR (NOT (kind IN ('sold', 'written_off'))))", ("qty_pcs", "kind"),
     ("sign_of_kind", "sold and written_off take pieces off the shelf: wanted fewer than 0, as -2")),
    ("((qty_pcs < 0) OR (NOT (\"kind\" IN ('sold'))))", ("qty_pcs", "kind"),
     ("sign_of_kind", "sold takes pieces off the shelf: wanted fewer than 0, as -2")),
])
def test_a_check_in_words(text, columns, expected):
    assert rule_words.check(text, columns) == expected


@pytest.mark.parametrize(("kind", "rule", "words"), [
    ("DATE", "date", "wanted a day as 2025-03-09"), ("BIGINT", "whole_number", "wanted a whole number, as 12"),
    ("INTEGER", "whole_number", "wanted a whole number, as 12"),
    ("DOUBLE", "number", "wanted a number with a decimal point, as 12.50"),
    ("DECIMAL(18,4)", "number", "wanted a number with a decimal point, as 12.50")])
def test_what_a_type_wants(kind, rule, words):
    assert rule_words.wanted(Column("plays", kind, "", False)) == (rule, words)


def test_pieces_are_called_pieces():
    assert "of pieces" in rule_words.wanted(Column("qty_pcs", "BIGINT", "", True))[1]


def test_each_kind_of_move_has_the_sign_its_rule_says():
    rules = {words: text for text, columns in catalogue.tables()["stock_moves"].checks
             for rule, words in [rule_words.check(text, columns)] if rule == "sign_of_kind"}
    assert sorted(rules) == [
        "opening, harvested, made and found put pieces on the shelf: wanted more than 0, as 2",
        "sold, written_off and returned_to_vendor take pieces off the shelf: wanted fewer than 0, as -2"]


@pytest.mark.parametrize(("kind", "qty_pcs", "is_refused"), [
    ("opening", "-1", True), ("harvested", "-1", True), ("made", "-1", True), ("found", "-1", True),
    ("sold", "1", True), ("written_off", "1", True), ("returned_to_vendor", "1", True),
    ("opening", "1", False), ("found", "1", False), ("sold", "-1", False), ("returned_to_vendor", "-1", False),
    ("kit_opened", "-1", False), ("kit_opened", "1", False)])
def test_a_move_of_the_wrong_sign_is_put_on_its_pieces(kind, qty_pcs, is_refused):
    with connect.open_memory() as connection:
        connection.execute("insert into parts (part, description) values ('coil', 'C')")
        connection.execute("create or replace temp table accepted_parts as from main.parts")
        validate.stage(connection, "stock_moves", pd.DataFrame({
            "file_line": [2], "extra": None, "part": "coil", "moved_on": "2025-01-01", "qty_pcs": qty_pcs,
            "kind": kind}))
        found = validate.offences(connection, "stock_moves", pd.DataFrame(columns=validate.OFFENCE_COLUMNS))
        assert [tuple(row) for row in found[["column", "value", "rule"]].to_numpy()] == (
            [("qty_pcs", qty_pcs, "sign_of_kind")] if is_refused else [])


def test_a_reference_names_the_table_and_settings_name_each_other():
    assert rule_words.reference("parts", "part") == ("unknown_part", "wanted a part listed in parts")
    rule, words = rule_words.reference("shop_keys", "key")
    assert rule == "unknown_key" and "labour_rate" in words and "shop_keys" not in words
