"""A load that stands for the whole store and would empty it, or drop most of it: asked about first."""

import pytest

from pipeline.ingest import bench, shop_folder, starter
from pipeline.ingest.shop_folder import Terms
from tests.support import small_shop

REPLACING, ALLOWED = Terms(is_replacing=True), Terms(is_replacing=True, allows_loss=True)


@pytest.fixture
def store(tmp_path):
    return small_shop.loaded_before(tmp_path / "shop", small_shop.WHOLE)


def replaced(store, folder, files, terms=REPLACING):
    small_shop.write(folder, files)
    return shop_folder.load(folder, store, folder.with_name("out"), terms)


def test_a_blank_folder_does_not_empty_the_shop(store, tmp_path):
    before = store.read_bytes()
    starter.write_folder(tmp_path / "blank")
    summary = shop_folder.load(tmp_path / "blank", store, tmp_path / "out", REPLACING)
    assert summary.exit_code == 1 and store.read_bytes() == before
    (told,) = [line for line in summary.lines() if line.startswith("Nothing was loaded")]
    assert told == ("Nothing was loaded: --replace would leave nothing in parts, jobs and job_parts. The shop is as it "
                    "was. Is this the right folder, and are all its files there and whole? If so, load it with "
                    "--replace --allow-loss.")
    assert (tmp_path / "out" / "tables" / "records.csv").read_text(encoding="utf-8").count(",dropped,") > 40
    summary = shop_folder.load(tmp_path / "blank", store, tmp_path / "out", ALLOWED)
    assert summary.exit_code == 0 and small_shop.rows(store, "select count(*) from jobs") == [(0,)]


@pytest.mark.parametrize(("name", "text"), [
    ("job_parts", "job,part,qty_pcs\n"), ("jobs", "job,family,scope\n"), ("jobs", "job,family,scope\nJ1,em,wild\n")])
def test_no_required_table_is_left_empty_even_where_its_rows_only_would_be_set_aside(store, tmp_path, name, text):
    summary = replaced(store, tmp_path / "new", small_shop.LEAST | {name: text})
    emptied = "job_parts" if name == "job_parts" else "jobs and job_parts"
    assert f"--replace would leave nothing in {emptied}." in " ".join(summary.lines()) and summary.is_refused


def many(table, count, start=0):
    return {table: "part,counted_on,qty_pcs\n" + "".join(f"lamp,2025-01-{n + 1:02},3\n" for n in range(start, count))}


@pytest.mark.parametrize(("left", "is_refused"), [(10, False), (9, True), (0, True)])
def test_more_than_half_of_a_table_is_asked_about(tmp_path, left, is_refused):
    store, _ = small_shop.load(tmp_path / "shop", small_shop.LEAST | many("counts", 20))
    summary = replaced(store, tmp_path / "new", small_shop.LEAST | many("counts", left))
    assert summary.is_refused is is_refused
    assert (f"drop {20 - left} of the 20 rows of counts." in " ".join(summary.lines())) is is_refused
    assert small_shop.rows(store, "select count(*) from counts") == [(20 if is_refused else left,)]


def test_a_file_whose_rows_all_changed_is_no_loss_but_another_shop_s_jobs_are(tmp_path):
    jobs = {"jobs": "job,family,scope\n" + "".join(f"J{n},em,refresh\n" for n in range(1, 13))}
    store, _ = small_shop.load(tmp_path / "shop", small_shop.LEAST | jobs)
    retold = small_shop.LEAST["job_parts"].replace("2025-", "2024-")
    assert not replaced(store, tmp_path / "1", small_shop.LEAST | jobs | {"job_parts": retold}).is_refused
    spelled = {"jobs": jobs["jobs"].replace("J", "j")}
    assert not replaced(store, tmp_path / "2", small_shop.LEAST | spelled).is_refused
    other = {name: text.replace("J", "K") for name, text in (small_shop.LEAST | jobs).items()}
    assert replaced(store, tmp_path / "3", other).is_refused


def test_rows_of_the_notebook_and_what_they_need_are_no_loss(store, tmp_path):
    bench.record_use(store, "J3", "lamp", 5, "2025-04-06")
    files = {name: text.splitlines()[0] + "\n" for name, text in small_shop.LEAST.items()}
    assert not replaced(store, tmp_path / "new", files).is_refused
