"""A file is written whole or not at all, by one writer at a time, and read with a limit."""

import os
import stat
import sys
import threading
from pathlib import Path

import pytest

from trainer import files
from trainer.files import (
    SHARED,
    copy_aside,
    locked,
    make_own_folder,
    put_aside,
    read_whole,
    whole_file,
    write_whole,
)


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


def test_what_belongs_to_the_user_is_nobody_elses_to_read(tmp_path: Path) -> None:
    with whole_file(tmp_path / "a.txt") as file:
        file.write("mine")
    write_whole(tmp_path / "b.bin", b"mine")
    make_own_folder(tmp_path / "one" / "two")
    modes = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("a.txt", "b.bin", "one", "one/two")]
    assert modes == [0o600, 0o600, 0o700, 0o700]


def test_a_file_asked_for_by_name_has_the_rights_of_the_users_mask(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "page.png", b"", mode=SHARED)
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "page.png").stat().st_mode) == 0o640


def test_a_link_in_the_files_place_is_replaced_and_not_followed(tmp_path: Path) -> None:
    other = tmp_path / "other.txt"
    other.write_text("another's")
    (tmp_path / "a.txt").symlink_to(other)
    (tmp_path / "a.txt.new").symlink_to(other)  # the name that drafts once had
    with whole_file(tmp_path / "a.txt") as file:
        file.write("mine")
    assert other.read_text() == "another's"
    assert not (tmp_path / "a.txt").is_symlink()
    assert (tmp_path / "a.txt").read_text() == "mine"


def test_two_writers_of_one_file_do_not_tear_it(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    with whole_file(path) as first:
        first.write("first")
        with whole_file(path) as second:
            second.write("second, and longer")
        assert path.read_text() == "second, and longer"
    assert path.read_text() == "first"


def test_only_plain_files_of_a_stated_size_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.bin"
    path.write_bytes(b"12345")
    assert read_whole(path, 5) == b"12345"
    with pytest.raises(OSError, match="larger than 4 bytes"):
        read_whole(path, 4)
    os.mkfifo(tmp_path / "pipe")
    for wrong in (tmp_path / "pipe", Path("/dev/zero")):
        with pytest.raises(OSError, match="no plain file"):
            read_whole(wrong, 5)
    with pytest.raises(FileNotFoundError):
        read_whole(tmp_path / "none", 5)


def test_a_second_writer_waits_until_the_first_is_done(tmp_path: Path) -> None:
    path, order = tmp_path / "a.txt", []

    def write(name: str, inside: threading.Event, go: threading.Event) -> None:
        with locked(path):
            order.append(f"{name} in")
            inside.set()
            assert go.wait(60)
            order.append(f"{name} out")

    events = [threading.Event() for _ in range(4)]
    first = threading.Thread(target=write, args=("a", events[0], events[1]))
    second = threading.Thread(target=write, args=("b", events[2], events[3]))
    first.start()
    assert events[0].wait(60)
    second.start()
    events[3].set()
    events[1].set()
    first.join(60)
    second.join(60)
    assert order == ["a in", "a out", "b in", "b out"]


def test_a_lock_that_is_never_given_back_is_an_error_and_not_a_wait_for_good(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "LONGEST_WAIT_S", 0.0)
    with locked(tmp_path / "a.txt"), pytest.raises(OSError, match="another program"):  # noqa: SIM117
        with locked(tmp_path / "a.txt"):
            pass
    with locked(tmp_path / "a.txt"):
        assert stat.S_IMODE((tmp_path / "a.txt.lock").stat().st_mode) == 0o600


def test_a_lock_is_not_put_behind_a_link(tmp_path: Path) -> None:
    (tmp_path / "a.txt.lock").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(OSError, match=r"a\.txt\.lock"), locked(tmp_path / "a.txt"):
        pass
    assert not (tmp_path / "elsewhere").exists()


def test_what_was_put_aside_before_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    for text in ("first", "second"):
        path.write_text(text)
        put_aside(path)
    for data in (b"third", b"third", b"first"):
        copy_aside(path, data)
    assert {each.name: each.read_text() for each in tmp_path.iterdir()} == {
        "a.txt.unread": "first", "a.txt.unread-2": "second", "a.txt.unread-3": "third",
    }  # fmt: skip


@pytest.mark.skipif(sys.platform != "linux", reason="counts the open files in /proc")
def test_reading_and_writing_many_files_leaves_none_open(tmp_path: Path) -> None:
    path = tmp_path / "file"
    before = len(list(Path("/proc/self/fd").iterdir()))
    for number in range(20):
        write_whole(path, b"x" * number)
        assert read_whole(path, 100) == b"x" * number
        with pytest.raises(OSError, match="larger"):
            read_whole(path, number - 1)
        with locked(path):
            pass
    with pytest.raises(OSError, match="no plain file"):
        read_whole(tmp_path, 100)
    assert len(list(Path("/proc/self/fd").iterdir())) == before
