"""What can go wrong around a report: each a sentence, nothing half-written, the rest still done."""

import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from pipeline.errors import SparebenchError, StoreError
from pipeline.ingest import shop_folder
from pipeline.reports import all_tables, kernel, lab, run
from pipeline.reports.pages import page_on_disk

NASTY = "<script>window.slipped=1</script>\"'&,;=cmd|' /C calc'!A0"


def shop(folder, **changed):
    """A shop of three files, some of their text changed."""
    texts = {
        "parts": "part,description,unit_cost\nSLV-01,coil sleeve,0.85\nCOI-02,coil,17.5\n",
        "jobs": "job,family,scope,started_on,delivered_on\nJ-1,em,thorough,2031-01-02,2031-01-20\n"
        "J-2,em,fix_only,2031-02-01,2031-02-02\n",
        "job_parts": "job,part,qty_pcs,used_on\nJ-1,SLV-01,12,2031-01-05\nJ-2,COI-02,1,2031-02-01\n",
    }
    folder.mkdir(parents=True)
    for name, text in {**texts, **changed}.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    shop_folder.load(folder, folder.with_suffix(".duckdb"), folder.parent)
    return folder.with_suffix(".duckdb")


@pytest.fixture
def store(tmp_path):
    return shop(tmp_path / "shop")


@pytest.fixture
def one_table(monkeypatch):
    """Of the tables only that of the records is written: what is asked about stands on a page."""
    monkeypatch.setattr(all_tables, "NAMES", ("records",))


def holding(store):
    """Another process that keeps the store open for writing until its input ends."""
    code = f"import duckdb; c = duckdb.connect({str(store)!r}); print('held', flush=True); input()"
    held = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert held.stdout.readline() == "held\n"
    return held


def test_a_store_open_elsewhere_is_said_with_its_process(store, tmp_path):
    held = holding(store)
    try:
        with pytest.raises(StoreError, match=rf"open in another window, process {held.pid}"):
            run.report(store, tmp_path / "out")
    finally:
        held.communicate("\n")
    assert not (tmp_path / "out").exists()


def test_a_file_that_is_no_store_is_said(tmp_path):
    path = tmp_path / "shop.duckdb"
    path.write_bytes(b"part,description\n" * 500)
    with pytest.raises(StoreError, match="cannot be opened as a shop's store"):
        run.report(path, tmp_path / "out")


def test_a_store_that_goes_away_half_way_fails_page_by_page(store, tmp_path, monkeypatch, one_kernel):
    def gone(*_):
        store.rename(store.with_suffix(".away"))
        return {}

    monkeypatch.setattr(run, "_write_tables", gone)
    result = run.report(store, tmp_path / "out", only=["health", "record"])
    assert set(result.failures) == {"health", "record", "orders"}
    assert all("no store at" in reason for reason in result.failures.values())
    for name in ("health", "record"):
        body = result.pages[name].read_text(encoding="utf-8").split("<footer>")[0]
        assert "no store at" in body and "Traceback" not in body


def test_one_table_that_fails_leaves_the_others(store, tmp_path, monkeypatch, one_kernel):
    monkeypatch.setattr(all_tables, "NAMES", ("records", "no_such_table", "lead_times"))
    result = run.report(store, tmp_path / "out", only="record")
    assert set(result.tables) == {"records", "lead_times"}
    assert list(result.failures) == ["table no_such_table"]
    assert "Traceback" in (tmp_path / "out" / "report.log").read_text(encoding="utf-8")


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="this user may write anywhere")
def test_a_folder_that_cannot_be_written_is_an_error_not_a_silence(store, tmp_path):
    (tmp_path / "locked").mkdir(mode=0o500)
    with pytest.raises(OSError):
        run.report(store, tmp_path / "locked" / "out")


def test_an_output_place_that_is_a_file_is_an_error(store, tmp_path):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises((OSError, SparebenchError)):
        run.report(store, tmp_path / "out")
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_names_of_places_with_blanks_quotes_and_umlauts(tmp_path, one_table, one_kernel):
    store = shop(tmp_path / 'Müller\'s shop, "one" & all')
    result = run.report(store, tmp_path / "öut put", only=["health", "record"])
    assert result.failures == {} and all(path.is_file() for path in result.pages.values())


def test_what_people_type_never_becomes_markup(tmp_path, one_table, one_kernel):
    quoted = '"' + NASTY.replace('"', '""') + '"'
    store = shop(
        tmp_path / "shop",
        parts=f"part,description,unit_cost\nSLV-01,{quoted},0.85\nCOI-02,coil,17.5\n",
        shop=f"key,value\nname,{quoted}\n",
        families=f"family,name\nem,{quoted}\n",
    )
    result = run.report(store, tmp_path / "out")
    assert result.failures == {}
    for path in (*result.pages.values(), result.index):
        text = path.read_text(encoding="utf-8")
        assert "<script>window.slipped" not in text, path.name
        for spec in re.findall(r'class="spec">(.*?)</script>', text, re.DOTALL):
            assert "<" not in spec and "slipped" in json.dumps(json.loads(spec)) or "slipped" not in spec


def test_a_cell_that_a_spreadsheet_would_run_is_kept_as_text_in_the_store(tmp_path):
    store = shop(
        tmp_path / "shop", parts='part,description,unit_cost\n=1+1,"=cmd|calc",0.85\nCOI-02,coil,17.5\n'
    )
    frame = all_tables.table(store, "order_plan")
    assert "=1+1" in frame["part"].tolist()


def test_a_shop_without_a_single_taking_gets_a_report(tmp_path, one_kernel):
    store = shop(tmp_path / "shop", job_parts="job,part,qty_pcs,used_on\n")
    result = run.report(store, tmp_path / "out")
    assert result.failures == {}
    assert "no delivered job records its parts" in result.answers["consumption"]


def test_a_shop_with_one_job_gets_a_report(tmp_path, one_kernel):
    store = shop(
        tmp_path / "shop",
        jobs="job,family,scope,delivered_on\nJ-1,em,thorough,2031-01-20\n",
        job_parts="job,part,qty_pcs,used_on\nJ-1,SLV-01,12,2031-01-05\n",
    )
    assert run.report(store, tmp_path / "out").failures == {}


def test_a_thousand_rows_set_aside_are_all_listed(tmp_path, one_table, one_kernel):
    rows = "".join(f"J-1,SLV-01,lots,2031-01-{1 + n % 28:02d},{n}\n" for n in range(1000))
    store = shop(
        tmp_path / "shop", job_parts=f"job,part,qty_pcs,used_on,line\nJ-1,SLV-01,12,2031-01-05,\n{rows}"
    )
    result = run.report(store, tmp_path / "out", only="health")
    assert result.pages["health"].read_text(encoding="utf-8").count(">lots</td>") == 1000
    assert len(pd.read_csv(result.tables["records"])) >= 1000


def test_a_page_cut_short_on_disk_does_not_break_the_index(store, tmp_path, one_table, one_kernel):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "shelf.html").write_text("<!DOCTYPE html><ti", encoding="utf-8")
    assert page_on_disk(tmp_path / "out" / "shelf.html").title == "shelf"
    result = run.report(store, tmp_path / "out", only="record")
    assert 'href="shelf.html"' in result.index.read_text(encoding="utf-8")


def test_the_kernel_is_gone_after_a_failure(tmp_path):
    before = set(children())
    with pytest.raises(kernel.NotebookError):
        with kernel.warm(tmp_path) as running:
            running.say("import os; raise SystemError('stop')")
    assert set(children()) <= before


def children():
    """Processes whose parent is this one."""
    if not Path("/proc").is_dir():
        return []
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text(encoding="utf-8").rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == os.getpid() and fields[0] != "Z":
            found.append(int(path.parent.name))
    return found


def test_the_server_is_gone_after_a_failure_to_start(tmp_path, monkeypatch):
    (tmp_path / "shop.duckdb").touch()
    monkeypatch.setattr(lab, "START_SECONDS", 0.3)
    monkeypatch.setattr(lab, "_command", lambda *_: [sys.executable, "-c", "import time; time.sleep(60)"])
    before = set(children())
    with pytest.raises(StoreError, match="did not start within 0.3 seconds"):
        with lab.serve(tmp_path / "shop.duckdb", tmp_path / "out", "today"):
            pass
    assert set(children()) <= before


@pytest.mark.skipif(os.name == "nt", reason="signals differ")
def test_ctrl_c_stops_the_report_and_its_kernel(store, tmp_path):
    code = f"from pipeline.reports import run; run.report({str(store)!r}, {str(tmp_path / 'out')!r}, progress=print)"
    started = subprocess.Popen(
        [sys.executable, "-u", "-c", code],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(kernel.ROOT)},
        start_new_session=True,
    )
    while "page consumption" not in started.stdout.readline():
        assert started.poll() is None
    os.kill(started.pid, signal.SIGINT)
    started.communicate(timeout=60)
    assert started.returncode != 0
    assert not in_session(started.pid)


def in_session(session):
    """Living processes of a session, but for the dead that nobody has fetched."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat") if Path("/proc").is_dir() else []:
        try:
            fields = path.read_text(encoding="utf-8").rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[3]) == session and fields[0] != "Z":
            found.append(path.parent.name)
    return found
