"""Parts of the run: steps counted, failures kept, answers read back, one page's failure told in its own words."""

from pathlib import Path

import pytest

from pipeline.reports import run
from pipeline.reports.run import ReportResult


@pytest.fixture
def seen():
    return []


def test_steps_count_up_to_the_total(seen):
    steps = run._Steps(lambda *step: seen.append(step), 2)
    steps.next("first")
    steps.next("second")
    steps.done()
    assert seen == [(0, 2, "first"), (1, 2, "second"), (2, 2, "done")]


def test_steps_need_nobody_watching():
    steps = run._Steps(None, 1)
    steps.next("first")
    steps.done()


def test_a_failure_is_a_sentence_for_the_reader_and_a_traceback_for_the_log(tmp_path):
    with run._Log(tmp_path / "report.log") as log:
        try:
            raise ValueError("no price for SLV-01")
        except ValueError as error:
            log.failed("shelf", error)
    assert log.failures == {"shelf": "no price for SLV-01"}
    text = (tmp_path / "report.log").read_text(encoding="utf-8")
    assert text.startswith("== shelf\n") and "Traceback" in text and "no price for SLV-01" in text


def test_without_failures_an_old_log_is_cleared_away(tmp_path):
    (tmp_path / "report.log").write_text("of last week", encoding="utf-8")
    with run._Log(tmp_path / "report.log"):
        pass
    assert not (tmp_path / "report.log").exists()


def test_the_log_is_written_even_when_the_run_breaks_off(tmp_path):
    with pytest.raises(KeyboardInterrupt):
        with run._Log(tmp_path / "report.log") as log:
            log.failed("shelf", ValueError("x"))
            raise KeyboardInterrupt
    assert (tmp_path / "report.log").is_file()


def result(**changed):
    made = {
        "index": Path("out/index.html"),
        "pages": {"today": Path("out/today.html"), "shelf": Path("out/shelf.html")},
        "tables": {"records": Path("out/tables/records.csv")},
        "answers": {"today": "2 jobs wait.", "shelf": ""},
        "failures": {},
    }
    return ReportResult(**{**made, **changed})


def test_lines_give_answers_then_where_to_look():
    assert result().lines() == [
        "today: 2 jobs wait.",
        f"2 pages and 1 table written. Open {Path('out/index.html')}",
    ]


def test_lines_say_what_failed_between_the_two():
    failed = result(failures={"shelf": "no offers", "table baskets": "no vendors"}).lines()
    assert failed[1:3] == [
        "shelf could not be written in full. no offers",
        "table baskets could not be written in full. no vendors",
    ]


def test_asking_twice_for_a_page_runs_it_once():
    assert run.chosen(["shelf", "shelf"]) == ["shelf"]


def test_the_order_is_the_reading_order_of_a_day():
    assert run.ORDER[0] == "today" and run.ORDER[-1] == "record"
