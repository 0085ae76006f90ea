"""A file is written whole or not at all."""

from pathlib import Path

import pytest

from trainer.records.whole_file import whole_file


def test_what_is_written_takes_its_place_and_nothing_else_is_left(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")
    with whole_file(path) as file:
        file.write("new")
        assert path.read_text() == "old"
    assert path.read_text() == "new"
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


def test_a_failure_half_way_leaves_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    path.write_text("old")

    def fail() -> None:
        with whole_file(path) as file:
            file.write("half")
            raise OSError("the disk is full")

    with pytest.raises(OSError, match="full"):
        fail()
    assert path.read_text() == "old"
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


def test_a_lone_surrogate_is_written_as_its_backslash_form_when_asked(tmp_path: Path) -> None:
    with whole_file(tmp_path / "a.txt", errors="backslashreplace") as file:
        file.write("\ud800")
    assert (tmp_path / "a.txt").read_bytes() == b"\\ud800"
