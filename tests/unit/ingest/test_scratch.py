"""Places for what is half-written: made when wanted, gone whatever happens."""

import pytest

from pipeline.errors import RecordsError
from pipeline.ingest import scratch


def test_folders_above_a_path_are_made_and_stay_where_all_went_well(tmp_path):
    with scratch.parents(tmp_path / "a" / "b" / "file"):
        pass
    assert (tmp_path / "a" / "b").is_dir() and not (tmp_path / "a" / "b" / "file").exists()


@pytest.mark.parametrize("trouble", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_folders_above_a_path_go_again_where_it_failed(tmp_path, trouble):
    (tmp_path / "mine").mkdir()
    with pytest.raises(type(trouble)), scratch.parents(tmp_path / "mine" / "a" / "b" / "file"):
        raise trouble
    assert [path.name for path in tmp_path.iterdir()] == ["mine"] and not list((tmp_path / "mine").iterdir())


def test_folders_above_a_path_stay_where_something_of_anothers_is_in_them(tmp_path):
    with pytest.raises(ValueError), scratch.parents(tmp_path / "a" / "b" / "file"):
        (tmp_path / "a" / "note.txt").write_text("mine", encoding="utf-8")
        raise ValueError("a slip")
    assert [path.name for path in (tmp_path / "a").iterdir()] == ["note.txt"]


def test_a_file_where_a_folder_is_wanted_is_an_error_of_the_system(tmp_path):
    (tmp_path / "a").write_text("x", encoding="utf-8")
    with pytest.raises(OSError), scratch.parents(tmp_path / "a" / "b" / "file"):
        raise AssertionError
    assert (tmp_path / "a").read_text(encoding="utf-8") == "x"


@pytest.mark.parametrize("trouble", [None, ValueError("a slip"), KeyboardInterrupt()])
def test_a_folder_is_empty_at_first_and_gone_at_the_end(tmp_path, trouble):
    place = tmp_path / "half"

    def work():
        with scratch.folder(place, {"a", "b"}) as made:
            assert made == place and not list(made.iterdir())
            (made / "a").mkdir()
            (made / "a" / "deep").write_text("x", encoding="utf-8")
            if trouble:
                raise trouble

    if trouble:
        with pytest.raises(type(trouble)):
            work()
    else:
        work()
    assert not place.exists()


def test_a_folder_that_has_been_moved_away_is_not_missed(tmp_path):
    with scratch.folder(tmp_path / "half", set()) as made:
        made.rename(tmp_path / "whole")
    assert [path.name for path in tmp_path.iterdir()] == ["whole"]


def test_what_a_killed_run_left_is_taken_away(tmp_path):
    (tmp_path / "half" / "b").mkdir(parents=True)
    with scratch.folder(tmp_path / "half", {"a", "b"}) as made:
        assert not list(made.iterdir())


@pytest.mark.parametrize("other", ["folder", "file"])
def test_what_nobody_of_us_left_is_in_the_way_and_stays(tmp_path, other):
    if other == "folder":
        (tmp_path / "half").mkdir()
        (tmp_path / "half" / "letter.txt").write_text("mine", encoding="utf-8")
    else:
        (tmp_path / "half").write_text("mine", encoding="utf-8")
    place = tmp_path / "half"
    with pytest.raises(RecordsError, match="half is in the way; move it away"), scratch.folder(place, {"a"}):
        raise AssertionError
    assert place.is_file() or [path.name for path in place.iterdir()] == ["letter.txt"]
