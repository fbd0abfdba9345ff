"""Each verb is one call: what it is given, what it prints, what its exit code says."""

import datetime
import os
from pathlib import Path

import pytest

from pipeline import __main__ as command
from pipeline import bootstrap, command_line
from pipeline.ingest.shop_folder import Terms
from tests.support import small_shop


class Result:
    """What a load or a report gives back."""

    def __init__(self, *lines, exit_code=0, failures=()):
        self._lines, self.exit_code, self.failures = lines, exit_code, dict(failures)

    def lines(self):
        return list(self._lines)


@pytest.fixture
def made(tmp_path, monkeypatch):
    """Calls that the verbs make, in order; an empty folder to work in, the set-up done."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(bootstrap, "ensure", lambda *words: None)
    return []


@pytest.fixture
def stand_in(made, monkeypatch):
    """Put something in the place of a function below the command line."""

    def put(name, result):
        monkeypatch.setattr(f"pipeline.{name}", lambda *words: made.append(words) or result)

    return put


def test_check_reads_and_says_what_it_found(made, stand_in, capsys):
    stand_in("ingest.shop_folder.check", Result("parts.csv: 3 of 4 rows", exit_code=1))
    assert command.main(["check", "my-shop"]) == 1
    assert made == [(Path("my-shop"), Path("out"), None)]
    assert capsys.readouterr().out == "parts.csv: 3 of 4 rows\n"


def test_load_keeps_the_store_beside_the_folder_and_says_what_to_type_next(made, stand_in, capsys):
    stand_in("ingest.shop_folder.load", Result("loaded"))
    assert command.main(["load", "my shop"]) == 0
    assert made == [(Path("my shop"), Path("my shop.duckdb"), Path("out"), Terms())]
    said = capsys.readouterr().out.splitlines()
    program = "py" if os.name == "nt" else "python3"
    assert said == ["loaded", f"Next: {program} -m pipeline report --shop 'my shop.duckdb'"]


def test_load_into_a_named_store_and_place(made, stand_in, capsys):
    stand_in("ingest.shop_folder.load", Result())
    command.main(["load", "my-shop", "--shop", "a.duckdb", "--out", "pages"])
    assert made == [(Path("my-shop"), Path("a.duckdb"), Path("pages"), Terms())]
    assert capsys.readouterr().out.endswith("-m pipeline report --shop a.duckdb --out pages\n")


@pytest.mark.parametrize("folder, store", [
    ("shops/north", "shops/north.duckdb"), ("shops/north/", "shops/north.duckdb"), ("north", "north.duckdb")])
def test_two_shops_never_share_a_store(made, stand_in, folder, store):
    stand_in("ingest.shop_folder.load", Result())
    command.main(["load", folder])
    assert made[0][1] == Path(store)


@pytest.mark.parametrize("folder", [".", "../my-shop/../my-shop", ".."])
def test_the_store_of_a_folder_named_in_a_roundabout_way(made, stand_in, tmp_path, monkeypatch, folder):
    stand_in("ingest.shop_folder.load", Result())
    inside = tmp_path / "my-shop" / "csv" if folder == ".." else tmp_path / "my-shop"
    inside.mkdir(parents=True)
    monkeypatch.chdir(inside)
    command.main(["load", folder])
    assert made[0][1].resolve() == tmp_path / "my-shop.duckdb"


def test_a_folder_whose_neighbourhood_cannot_be_written_to(made, tmp_path, monkeypatch, capsys):
    (tmp_path / "my-shop").mkdir()
    monkeypatch.setattr(command_line.os, "access", lambda path, mode: False)
    assert command.main(["load", "my-shop"]) == 1
    assert capsys.readouterr().err == (
        f"{tmp_path} cannot be written to. Say where the store goes with --shop FILE.\n")


def test_report_passes_its_choices_on(made, stand_in, tmp_path, capsys):
    stand_in("reports.run.report", Result("shelf: order 3 lines"))
    words = ["report", "--shop", "a.duckdb", "--only", "shelf", "today", "--set", "family=em", "--set", "note=a=b"]
    assert command.main(words) == 0
    shop_file, out_dir, only, settings, progress = made[0]
    assert (shop_file, out_dir) == (Path("a.duckdb"), Path("out"))
    assert (only, settings) == (["shelf", "today"], {"family": "em", "note": "a=b"})
    progress(1, 3, "shelf")
    assert capsys.readouterr() == ("shelf: order 3 lines\n", "")


def test_a_report_with_a_page_missing_needs_attention(made, stand_in):
    stand_in("reports.run.report", Result(failures={"shelf": "no counts"}))
    assert command.main(["report", "--shop", "a.duckdb"]) == 1


@pytest.mark.parametrize("given", ["family", "=em"])
def test_a_setting_without_a_value_is_wrong_usage(made, given, capsys):
    assert command.main(["report", "--shop", "a.duckdb", "--set", given]) == 2
    assert capsys.readouterr().err == f"--set {given}: wanted PARAMETER=VALUE, such as --set family=em\n"


@pytest.mark.parametrize("verb", ["report", "open", "receive P1"])
def test_no_store_is_guessed(made, verb, capsys):
    assert command.main(verb.split()) == 1
    store, advice = Path("out", "shop.duckdb"), "Name yours with --shop FILE, as `load` said."
    assert capsys.readouterr().err == f"{store}: there is no store here. {advice}\n"


def test_the_demo_s_store_is_offered_where_it_is(made, tmp_path, capsys):
    (tmp_path / "out" / "demo").mkdir(parents=True)
    (tmp_path / "out" / "demo" / "shop.duckdb").touch()
    assert command.main(["open"]) == 1
    where = Path("out", "demo")
    assert f"-m pipeline open --shop {where / 'shop.duckdb'} --out {where}`." in capsys.readouterr().err


def test_open_uses_the_store_of_the_output_folder(made, stand_in, tmp_path):
    stand_in("reports.lab.open_notebook", None)
    (tmp_path / "pages").mkdir()
    (tmp_path / "pages" / "shop.duckdb").touch()
    assert command.main(["open", "shelf", "--out", "pages"]) == 0
    assert made == [(Path("pages/shop.duckdb"), Path("pages"), "shelf", print)]


@pytest.mark.parametrize("words, out_dir", [([], Path("out", "demo")), (["--out", "try"], Path("try"))])
def test_demo_loads_the_invented_shop_and_reports_on_it(made, stand_in, words, out_dir, capsys):
    stand_in("ingest.shop_folder.load", Result("loaded"))
    stand_in("reports.run.report", Result("Open index.html"))
    assert command.main(["demo", *words]) == 0
    assert made[0] == (command_line.DEMO_FOLDER, out_dir / "shop.duckdb", out_dir)
    assert made[1][:4] == (out_dir / "shop.duckdb", out_dir, [], {})
    assert capsys.readouterr().out == "loaded\nOpen index.html\n"


@pytest.mark.parametrize(("words", "terms"), [
    (["--strict"], Terms(is_strict=True)), (["--replace"], Terms(is_replacing=True)),
    (["--strict", "--replace"], Terms(is_strict=True, is_replacing=True)),
    (["--replace", "--allow-loss"], Terms(is_replacing=True, allows_loss=True))])
def test_load_passes_its_terms_on(made, stand_in, words, terms):
    stand_in("ingest.shop_folder.load", Result())
    command.main(["load", "my-shop", *words])
    assert made[0][3] == terms


def test_a_load_that_was_refused_names_no_next_command(made, stand_in, capsys):
    stand_in("ingest.shop_folder.load", Result("Nothing was loaded", exit_code=1))
    assert command.main(["load", "my-shop", "--strict"]) == 1
    assert capsys.readouterr().out == "Nothing was loaded\n"


def test_a_workbook_is_kept_in_a_store_beside_it(made, stand_in, tmp_path):
    (tmp_path / "books").mkdir()
    (tmp_path / "books" / "shop.xlsx").write_bytes(b"")
    stand_in("ingest.shop_folder.load", Result())
    command.main(["load", "books/shop.xlsx"])
    assert made[0][:2] == (Path("books/shop.xlsx"), Path("books/shop.duckdb"))


@pytest.mark.parametrize(("words", "maker"), [([], "write_folder"), (["--xlsx"], "write_workbook")])
def test_new_makes_a_folder_or_a_workbook(made, stand_in, capsys, words, maker):
    stand_in(f"ingest.starter.{maker}", Result("made"))
    assert command.main(["new", "my-shop", *words]) == 0
    assert made == [(Path("my-shop"),)] and capsys.readouterr().out == "made\n"


def test_receive_passes_order_parts_and_day_on_and_says_what_to_type_next(made, stand_in, capsys):
    stand_in("ingest.deliveries.receive", Result("Received: 5 pieces"))
    words = ["receive", "P1", "--shop", "a.duckdb", "--on", "2025-03-09", "--part", "a=b=5", "lamp=2"]
    assert command.main([*words, "--part", "coil=1"]) == 0
    assert made == [(Path("a.duckdb"), "P1", "2025-03-09", [("a=b", "5"), ("lamp", "2"), ("coil", "1")],
                     datetime.date.today(), False)]
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "Received: 5 pieces" and said[1].endswith("-m pipeline report --shop a.duckdb")
    assert command.main(["receive", "P1", "--shop", "a.duckdb", "--allow-more"]) == 0
    assert made[1][2:] == (None, None, datetime.date.today(), True)


@pytest.mark.parametrize(("words", "exit_code", "said"), [
    (["p2"], 0, "Received: 10 pieces of sleeve from order P2"), (["P9"], 1, "did you mean P1 or P2?"),
    (["P1"], 1, "wanted one with pieces still to come"), (["P2", "--part", "sleeve"], 2, "wanted PART=PIECES"),
    (["P2", "--part", "sleeve=11"], 1, "wanted at most the 10 still to come"),
    (["P2", "--on", "never"], 1, "wanted a day"),
    ([], 2, "ORDER_NO"), (["P2", "P3"], 2, "unrecognised words: P3")])
def test_receive_says_how_it_went(made, tmp_path, capsys, words, exit_code, said):
    store = small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)
    try:
        assert command.main(["receive", *words, "--shop", str(store)]) == exit_code
    except SystemExit as ended:  # wrong usage that the parser itself finds
        assert ended.code == exit_code
    printed = capsys.readouterr()
    assert said in (printed.err if exit_code else printed.out)
    assert bool(printed.out) == (exit_code == 0) and "Traceback" not in printed.err


@pytest.mark.parametrize(("words", "with_customers"), [([], False), (["--with-customers"], True)])
def test_export_leaves_customers_out_unless_asked(made, stand_in, words, with_customers):
    stand_in("ingest.export.export", Result("written"))
    assert command.main(["export", "copy", "--shop", "a.duckdb", *words]) == 0
    assert made == [(Path("a.duckdb"), Path("copy"), with_customers)]


def test_back_up_and_restore_name_store_and_file(made, stand_in):
    stand_in("ingest.back_up.back_up", Result())
    stand_in("ingest.back_up.restore", Result())
    assert command.main(["back-up", "a.zip", "--shop", "a.duckdb"]) == 0
    assert command.main(["restore", "a.zip", "--out", "pages"]) == 0
    assert made[0][:2] == (Path("a.duckdb"), Path("a.zip")) and made[0][2].microsecond == 0
    assert made[1] == (Path("a.zip"), Path("pages") / "shop.duckdb")


@pytest.mark.parametrize("verb", ["export", "back-up"])
def test_what_needs_a_store_says_where_it_looked(made, capsys, verb):
    assert command.main([verb, "copy"]) == 1
    assert "there is no store here" in capsys.readouterr().err
