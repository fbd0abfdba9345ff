"""Orders as files: sums, freight, names, harmless cells, no order of yesterday, no network."""

import csv
import re
import shutil

import pytest

from pipeline.reports import order_files
from pipeline.reports import shop as shops
from pipeline.store import connect
from tests.support import hand_shop

DAYS = [f"2025-{n:02d}" for n in range(1, 13)]
TABLES = {
    "shop": "key value\ntoday 2026-01-10\ncurrency EUR\nname Small&Bench",
    "families": "family name\nem EM",
    "parts": "part description\ncoil =cmd|calc\nlamp Lamp_&_<b>socket</b>",
    "jobs": "job family scope booked_on started_on delivered_on\n" + "\n".join(
        f"D{n} em thorough {day}-01 {day}-03 {day}-25" for n, day in enumerate(DAYS, 1)),
    "job_parts": "job part qty_pcs used_on\n" + "\n".join(
        f"D{n} lamp 10 {day}-05\nD{n} coil 2 {day}-05" for n, day in enumerate(DAYS, 1)),
    "vendors": "vendor name freight_flat freight_free_over lead_time_days order_hours\na/b North 9.5 500 6 0.4\n"
    "a:b - - - 6 0.4\nidle Idle 1 - 6 0.4",
    "offers": "vendor part vendor_part pack_pcs pack_price quoted_on\na/b coil +49-1 1 18.125 2025-06-01\n"
    "a:b lamp - 10 3.333 2025-06-01",
    "counts": "part counted_on qty_pcs\ncoil 2026-01-01 0\nlamp 2026-01-01 0",
}


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    return hand_shop.write(tmp_path_factory.mktemp("orders") / "shop.duckdb", **TABLES)


@pytest.fixture(scope="module")
def folder(store):
    place = store.parent / "orders"
    place.mkdir()
    (place / "idle.csv").write_text("of last week", encoding="utf-8")
    (place / "idle.html").write_text("of last week", encoding="utf-8")
    (place / "my notes.csv").write_text("mine", encoding="utf-8")
    assert order_files.write(store, place) == ["a_b", "a_b-2"]
    return place


def rows(path):
    with open(path, encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text))


def test_two_vendors_whose_names_become_one_stay_apart(folder):
    assert [row["part"] for row in rows(folder / "a_b.csv")] == ["coil"]
    assert [row["part"] for row in rows(folder / "a_b-2.csv")] == ["lamp"]


def test_an_order_of_another_day_is_gone_and_other_files_stay(folder):
    assert sorted(path.name for path in folder.iterdir()) == [
        "a_b-2.csv", "a_b-2.html", "a_b.csv", "a_b.html", "my notes.csv"]


def test_packs_pieces_price_and_amount_agree(folder):
    (coil,), (lamp,) = rows(folder / "a_b.csv"), rows(folder / "a_b-2.csv")
    assert list(coil) == order_files.COLUMNS == [
        "vendor_part", "part", "description", "packs", "pack_pcs", "pieces", "price", "amount"]
    assert (coil["price"], lamp["price"], lamp["pack_pcs"], lamp["vendor_part"]) == ("18.125", "3.333", "10", "")
    for row in (coil, lamp):
        assert int(row["packs"]) * int(row["pack_pcs"]) == int(row["pieces"]) > 0
        assert float(row["amount"]) == pytest.approx(int(row["packs"]) * float(row["price"]), abs=0.0051)
        assert re.fullmatch(r"\d+\.\d\d", row["amount"])


def test_no_cell_runs_in_a_spreadsheet(folder):
    (coil,) = rows(folder / "a_b.csv")
    assert (coil["vendor_part"], coil["description"]) == ("'+49-1", "'=cmd|calc")


def test_the_file_is_plain_utf8(folder):
    content = (folder / "a_b.csv").read_bytes()
    assert not content.startswith(b"\xef\xbb\xbf") and b"\r" not in content and content.endswith(b"\n")


def body(path):
    return re.sub(r"<style>.*?</style>", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)


def test_the_page_sums_goods_and_freight(folder):
    text, (coil,) = body(folder / "a_b.html"), rows(folder / "a_b.csv")
    goods = float(coil["amount"])
    assert goods < 500
    for label, amount in (("goods", goods), ("freight", 9.5), ("total, EUR", goods + 9.5)):
        assert f'{label}</th><td>{amount:,.2f}</td>' in text
    assert "Freight free from EUR 500.00 of goods." in text and "Order to North" in text and "2026-01-10" in text


def test_freight_nobody_wrote_down_is_unknown(folder):
    text = body(folder / "a_b-2.html")
    assert "freight</th><td>unknown</td>" in text and "unknown until the freight is" in text
    assert "nan" not in text.lower()


def test_the_page_shows_text_as_text_and_asks_nothing_of_the_network(folder):
    text = (folder / "a_b-2.html").read_text(encoding="utf-8")
    assert "Lamp_&amp;_&lt;b&gt;socket&lt;/b&gt;" in text and "Small&amp;Bench" in text
    assert "default-src &#39;none&#39;" in text and "<script" not in text
    assert "http" not in text.replace("http-equiv", "")
    assert "@media print" in text and "size: portrait" in text


def test_a_page_of_the_report_links_to_them(store):
    shop = shops.of(str(store))
    found = order_files.links(shop, ["a:b"])
    assert found.files == ("orders/a_b-2.html", "orders/a_b-2.csv")
    assert 'href="orders/a_b-2.csv"' in found._repr_html_() and "orders/a_b-2.csv" in repr(found)
    assert "No order is due today" in repr(order_files.links(shop, []))


def test_a_vendor_keeps_its_file_name_whoever_else_is_ordered_from(store, tmp_path):
    copied = shutil.copy(store, tmp_path / "shop.duckdb")
    with connect.change(copied) as connection:
        connection.execute("update counts set qty_pcs = 999 where part = 'coil'")
    assert order_files.write(copied, tmp_path / "orders") == ["a_b-2"]


def test_nothing_to_order_writes_nothing(store, tmp_path):
    copied = shutil.copy(store, tmp_path / "shop.duckdb")
    with connect.change(copied) as connection:
        connection.execute("update counts set qty_pcs = 9999")
    assert order_files.write(copied, tmp_path / "orders") == [] and not list(tmp_path.glob("orders/*"))
