"""The rules read back from the catalogue are those of the contract."""

from pipeline.store import catalogue

# Keyless files: a row is all its values (the contract's list, and receipts, of which one line may have several).
KEYLESS = {"job_parts", "job_hours", "job_costs", "counts", "callbacks", "stock_moves", "payments", "receipts"}
FILES = {
    "shop",
    "families",
    "parts",
    "aliases",
    "interchange",
    "companions",
    "machines",
    "jobs",
    "job_parts",
    "vendors",
    "offers",
    "orders",
    "order_lines",
    "receipts",
    "counts",
    "stock_moves",
    "assemblies",
    "family_assemblies",
    "assembly_parts",
    "job_hours",
    "job_costs",
    "findings",
    "quote_lines",
    "approvals",
    "payments",
    "callbacks",
    "photos",
    "wear",
}


def test_there_is_a_table_for_every_file_and_no_other():
    assert set(catalogue.tables()) == FILES
    assert set(catalogue.every_table()) == FILES | set(catalogue.OWN)


def test_parents_come_before_their_children():
    seen = set()
    for name in catalogue.every_table():
        if name in FILES:
            assert {parent for _, parent, _ in catalogue.tables()[name].references} <= seen
        seen.add(name)
    order = list(catalogue.tables())
    assert order.index("machines") < order.index("jobs")  # a job's family may stand with its machine


def test_keyless_files_are_those_of_the_contract():
    assert {name for name, table in catalogue.tables().items() if table.has_row_identity} == KEYLESS
    assert all(table.identity for table in catalogue.tables().values())


def test_the_program_fills_its_own_columns():
    for table in catalogue.tables().values():
        names = [column.name for column in table.file_columns]
        assert not set(names) & set(catalogue.FILLED)
        assert "extra" in [column.name for column in table.columns]


def test_a_table_knows_what_it_declares_and_what_its_words_are():
    tables = catalogue.tables()
    assert [tables[name].declares for name in ("parts", "orders", "offers", "job_parts")] == [
        "part",
        "order_no",
        None,
        None,
    ]
    assert tables["jobs"].words("scope") == ["fix_only", "refresh", "thorough"]
    assert tables["jobs"].words("job") == []


def test_the_three_places_that_name_wear_classes_agree():
    tables = catalogue.tables()
    assert (tables["parts"].words("wear_class") == tables["companions"].words("trigger_wear_class")
            == tables["wear"].words("wear_class"))
    assert len(tables["parts"].words("wear_class")) == 18


def test_required_columns_are_those_of_the_contract():
    required = {
        name: [c.name for c in table.file_columns if c.is_required] for name, table in catalogue.tables().items()
    }
    assert required["parts"] == ["part", "description"]
    assert required["jobs"] == ["job", "family", "scope"]
    assert required["job_parts"] == ["job", "part", "qty_pcs"]
    assert required["order_lines"] == ["order_no", "part", "qty_pcs", "unit_price"]
    assert required["stock_moves"] == ["part", "moved_on", "qty_pcs", "kind"]
    assert required["shop"] == ["key"]


def test_every_optional_file_says_what_it_unlocks():
    for name, table in catalogue.tables().items():
        assert bool(table.unlocks) == (name not in catalogue.REQUIRED), name


def test_settings_are_those_of_the_contract():
    assert set(catalogue.shop_keys()) == {
        "name", "currency", "labour_rate", "labour_cost", "overhead_per_hour", "bench_hours_per_week", "bays",
        "holding_rate_share", "bay_cost_per_day", "callback_trip_cost", "callback_goodwill_cost", "warranty_days",
        "callback_watch_days", "target_margin_share", "part_markup_share", "cash_limit_amount", "plays_per_month_home",
        "plays_per_month_route", "today"}


def test_money_is_exact_and_told_from_other_numbers():
    columns = {(table.name, column.name): column for table in catalogue.tables().values() for column in table.columns}
    money = {name for (_, name), column in columns.items() if column.is_money}
    assert {"unit_cost", "unit_price", "pack_price", "amount", "freight", "invoiced_amount"} <= money
    assert not money & {"hours", "share", "qty_pcs", "shape"}
    assert columns["job_hours", "hours"].is_number and not columns["job_parts", "qty_pcs"].is_number
