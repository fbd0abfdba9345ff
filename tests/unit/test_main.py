"""The command line: exit codes, messages, and where each verb's result goes."""

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline import __main__ as command
from pipeline import bootstrap, command_line, trouble_log
from pipeline.errors import InvalidParameter, RecordsError, SetupError, StoreError, UsageError

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def here(tmp_path, monkeypatch):
    """An empty folder to work in, and a set-up that is done."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(bootstrap, "ensure", lambda *words: None)
    return tmp_path


@pytest.fixture
def failing(here, monkeypatch):
    """Make the verb `check` raise."""

    def fail_with(error):
        def check(*places):
            raise error

        monkeypatch.setattr("pipeline.ingest.shop_folder.check", check)

    return fail_with


@pytest.mark.parametrize("error, exit_code", [
    (RecordsError("parts.csv line 3: no part"), 1),
    (StoreError("the shop is open in another window"), 1),
    (InvalidParameter("service_share is 95; wanted 0 to 1"), 1),
    (SetupError("no connection"), 1),
    (UsageError("no notebook of that name"), 2),
])
def test_a_trouble_of_the_user_s_is_told_in_its_own_words(failing, capsys, error, exit_code):
    failing(error)
    assert command.main(["check", "my-shop"]) == exit_code
    assert capsys.readouterr() == ("", f"{error}\n")


def test_what_nobody_foresaw_is_told_in_a_sentence_and_kept_in_a_log(failing, here, capsys):
    failing(ZeroDivisionError("division\nby zero"))
    assert command.main(["check", "my-shop", "--out", "pages"]) == 1
    said = capsys.readouterr().err
    assert said == ("Something went wrong that was not foreseen (ZeroDivisionError: division by zero). "
                    f"The details are in {Path('pages') / 'sparebench.log'}.\n")
    kept = (here / "pages" / "sparebench.log").read_text(encoding="utf-8")
    assert "Traceback (most recent call last)" in kept
    assert "check my-shop --out pages" in kept


def test_the_log_grows(failing, here, capsys):
    failing(KeyError("part"))
    for _ in range(2):
        command.main(["check", "my-shop"])
    assert (here / "out" / "sparebench.log").read_text(encoding="utf-8").count("KeyError: 'part'") == 2


def test_the_log_goes_elsewhere_where_the_folder_is_none(failing, here, capsys, monkeypatch):
    failing(KeyError("part"))
    (here / "out").write_text("a file stands where the folder should")
    monkeypatch.setattr(trouble_log.tempfile, "gettempdir", lambda: str(here / "elsewhere"))
    command.main(["check", "my-shop"])
    assert str(here / "elsewhere" / "sparebench.log") in capsys.readouterr().err


def test_no_place_for_the_log_is_no_traceback_either(failing, here, capsys, monkeypatch):
    failing(KeyError("part"))
    (here / "out").write_text("a file")
    monkeypatch.setattr(trouble_log.tempfile, "gettempdir", lambda: str(here / "out"))
    assert command.main(["check", "my-shop"]) == 1
    assert "could be written to" in capsys.readouterr().err


def test_ctrl_c_is_no_error(failing, capsys):
    failing(KeyboardInterrupt())
    assert command.main(["check", "my-shop"]) == 130
    assert capsys.readouterr().err == "Stopped. Run the same command again to go on.\n"


@pytest.mark.parametrize("words", [
    [], ["frob"], ["check"], ["load", "a", "b"], ["report", "--only"], ["demo", "--fast"], ["--shop", "x", "demo"]])
def test_wrong_words_end_with_2_before_anything_is_set_up(words, monkeypatch, capsys):
    monkeypatch.setattr(bootstrap, "ensure", lambda *given: pytest.fail("set up for nothing"))
    with pytest.raises(SystemExit) as stopped:
        command.main(words)
    assert stopped.value.code == 2
    assert "usage: " in capsys.readouterr().err


@pytest.mark.parametrize("words", [["--help"], ["demo", "--help"], ["test", "--help"], ["open", "-h"]])
def test_help_needs_no_set_up(words, monkeypatch, capsys):
    monkeypatch.setattr(bootstrap, "ensure", lambda *given: pytest.fail("set up for nothing"))
    with pytest.raises(SystemExit) as stopped:
        command.main(words)
    assert stopped.value.code == 0
    assert "usage: " in capsys.readouterr().out


def test_every_verb_is_explained(capsys):
    with pytest.raises(SystemExit):
        command.main(["--help"])
    said = capsys.readouterr().out
    assert all(f"\n    {verb} " in said for verb in ("demo", "test", "check", "load", "report", "open"))


@pytest.mark.parametrize("words, tier", [
    (["demo"], "run"), (["check", "x"], "run"), (["open"], "run"), (["test"], "test"),
    (["test", "-k", "kit"], "test"), (["test", "-m", "bench"], "bench")])
def test_each_verb_asks_for_what_it_needs(words, tier):
    assert command_line.read(words).tier == tier


def test_further_words_of_test_go_to_pytest_as_they_are(here, monkeypatch):
    given = []
    monkeypatch.setattr("pipeline.suite.run", lambda words: given.append(words) or 7)
    assert command.main(["test", "tests/unit", "-k", "a or b", "--lf", "-n0"]) == 7
    assert given == [["tests/unit", "-k", "a or b", "--lf", "-n0"]]


def test_the_set_up_is_asked_for_the_words_to_say_again(here, monkeypatch):
    asked = []
    monkeypatch.setattr(bootstrap, "ensure", lambda tier, words, tell, show: asked.append((tier, words)))
    monkeypatch.setattr("pipeline.suite.run", lambda words: 0)
    command.main(["test", "-x"])
    assert asked == [("test", ["test", "-x"])]


def test_progress_is_shown_on_a_terminal_and_not_in_a_pipe(capsys, monkeypatch):
    command.show("half way")
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    command.show("half way")
    command.show("")
    shown = capsys.readouterr().err
    assert shown.startswith("\rhalf way ")
    assert shown.endswith(" \r")


def test_a_reader_who_leaves_early_is_no_error():
    # As in `python3 -m pipeline --help | head -1`, with more lines than a pipe holds.
    code = ("import sys; from pipeline import __main__ as m, command_line as c\n"
            "c.run = lambda words, tell, *rest: [tell('x' * 1000) for _ in range(1000)]\n"
            "sys.exit(m.main([]))")
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, **pipes) as process:
        process.stdout.readline()
        process.stdout.close()
        said = process.stderr.read()
    assert (process.returncode, said) == (0, b"")
