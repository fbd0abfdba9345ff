"""Files written beside a load take their name at its end, or go."""

import contextlib

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import unfinished


def text_into(path, text):
    path.write_text(text, encoding="utf-8")


def named(final):
    return unfinished.named_at_the_end(final, text_into, "list")


def test_a_file_takes_its_name_at_the_end_and_its_folder_is_made(tmp_path):
    final = tmp_path / "out" / "a.csv"
    with named(final) as write:
        write("whole")
        assert [path.name for path in final.parent.iterdir()] == ["a.csv.unfinished"]
    assert [path.name for path in final.parent.iterdir()] == ["a.csv"] and final.read_text("utf-8") == "whole"


def test_the_file_of_before_stays_where_the_block_fails(tmp_path):
    final = tmp_path / "a.csv"
    text_into(final, "before")
    for error in (ZeroDivisionError, KeyboardInterrupt, RecordsError):
        with pytest.raises(error), named(final) as write:
            write("half")
            raise error
    assert final.read_text("utf-8") == "before" and list(tmp_path.iterdir()) == [final]


def test_where_nothing_is_written_nothing_is_touched(tmp_path):
    with named(tmp_path / "a.csv"):
        pass
    assert list(tmp_path.iterdir()) == []
    text_into(tmp_path / "a.csv", "before")
    with named(tmp_path / "a.csv"):
        pass
    assert (tmp_path / "a.csv").read_text("utf-8") == "before"


def test_a_full_disk_shows_when_writing_and_says_that_nothing_was_loaded(tmp_path):
    def full(path, text):
        path.write_text(text[:2], encoding="utf-8")
        raise OSError(28, "No space left on device")

    with pytest.raises(RecordsError, match="the list cannot be written .No space left on device.. Nothing was loaded"):
        with unfinished.named_at_the_end(tmp_path / "a.csv", full, "list") as write:
            write("whole")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_said_in_the_same_words(tmp_path):
    text_into(tmp_path / "out", "a file in its place")
    with pytest.raises(RecordsError, match="cannot be written"), named(tmp_path / "out" / "a.csv") as write:
        write("whole")


def in_use(monkeypatch, name):
    def refuse(source, target, replace=unfinished.os.replace):
        if target.name == name:
            raise PermissionError(13, "Permission denied")
        replace(source, target)

    monkeypatch.setattr(unfinished.os, "replace", refuse)


def test_a_file_open_in_another_program_is_kept_under_the_other_name(tmp_path, monkeypatch):
    in_use(monkeypatch, "a.csv")
    with pytest.raises(unfinished.NotNamedError, match="is it open in another program.*their list is in .*unfinished"):
        with named(tmp_path / "a.csv") as write:
            write("whole")
    assert (tmp_path / "a.csv.unfinished").read_text("utf-8") == "whole"


@pytest.mark.parametrize("refused", ["inner.csv", "outer.csv"])
def test_of_two_files_the_other_takes_its_name_all_the_same(tmp_path, monkeypatch, refused):
    # The load is done by then: neither may be lost for the other's sake.
    in_use(monkeypatch, refused)
    with pytest.raises(unfinished.NotNamedError, match=refused):
        with named(tmp_path / "outer.csv") as outer, named(tmp_path / "inner.csv") as inner:
            outer("one")
            inner("two")
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
        {"inner.csv", "outer.csv"} - {refused} | {refused + unfinished.MARK})


def test_both_refused_still_leaves_both_contents(tmp_path, monkeypatch):
    monkeypatch.setattr(unfinished.os, "replace", lambda *words: (_ for _ in ()).throw(PermissionError(13, "in use")))
    with pytest.raises(unfinished.NotNamedError), contextlib.ExitStack() as stack:
        for name in ("outer.csv", "inner.csv"):
            stack.enter_context(named(tmp_path / name))(name)
    assert {path.read_text("utf-8") for path in tmp_path.iterdir()} == {"outer.csv", "inner.csv"}
