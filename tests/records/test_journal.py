"""A take written down while it is played, and taken in after the program was killed."""

import json
import os
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.records.takes import a_take
from trainer.errors import StoreProblem
from trainer.practice.stored_take import StoredTake, reached, summarised
from trainer.records.journal import ENDING, Journal, journal_folder, recover
from trainer.records.store import Store

UID = "c" * 32
TAKE = a_take(player="Ann", uid=UID, jitter_s=0.02)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store.open(tmp_path / "takes.sqlite")
    yield opened
    opened.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return journal_folder(tmp_path / "takes.sqlite")


def written(folder: Path, take: StoredTake = TAKE, *, ended: bool = False, taps: int | None = None) -> Path:
    """The file of a take whose program was killed: at its end, or after some taps."""
    header = replace(take, passes=0, slots_asked=0, taps=(), rungs=(), asked=0, clean=0)
    journal = Journal.begin(folder, header)
    for tap in take.taps[:taps]:
        journal.tap(tap)
    if ended:
        journal.ends(take)
        assert not journal._thread.is_alive(), "all of it is written, and nobody waits for more"
    journal.leave()
    assert journal.problem == ""
    return journal.path


def test_a_take_killed_after_its_end_comes_back_as_it_was(folder: Path, store: Store) -> None:
    written(folder, ended=True)
    found = recover(folder, store)
    assert (found.takes, found.note) == (1, "A take that was broken off was saved.")
    assert replace(store.take(1), id=None) == TAKE
    assert list(folder.iterdir()) == []


def test_a_take_killed_in_the_middle_keeps_every_tap_and_ends_with_the_last(
    folder: Path, store: Store
) -> None:
    written(folder, taps=9)
    recover(folder, store)
    kept = replace(store.take(1), id=None)
    assert kept.taps == TAKE.taps[:9]
    assert kept == summarised(reached(replace(TAKE, taps=TAKE.taps[:9])))


def test_a_change_of_tempo_is_written_down(folder: Path, store: Store) -> None:
    timeline = TAKE.timeline.with_tempo(66, from_beat=Fraction(8))
    journal = Journal.begin(folder, replace(TAKE, taps=()))
    journal.tempo(timeline)
    journal.tap(TAKE.taps[0])
    journal.leave()
    recover(folder, store)
    assert store.take(1).timeline == timeline


def test_nothing_is_left_of_a_take_that_was_kept(folder: Path, store: Store) -> None:
    journal = Journal.begin(folder, TAKE)
    journal.ends(TAKE)
    store.keep(TAKE)
    journal.done()
    assert list(folder.iterdir()) == []


def test_a_take_killed_between_the_records_and_its_file_is_kept_once(folder: Path, store: Store) -> None:
    written(folder, ended=True)
    store.keep(TAKE)
    recover(folder, store)
    assert store.count() == 1
    assert list(folder.iterdir()) == []


def test_at_every_byte_at_which_the_file_may_end_what_was_written_comes_back(
    folder: Path, tmp_path: Path
) -> None:
    whole = written(folder).read_bytes()
    head = whole.index(b"\n") + 1
    steps = [0, 1, head - 1, head, *range(head + 1, len(whole) + 1, 7), len(whole)]
    for cut in steps:
        store = Store.open(tmp_path / f"{cut}.sqlite")
        (folder / f"{UID}{ENDING}").write_bytes(whole[:cut])
        taps = whole[head:cut].count(b"\n") if cut > head else 0
        assert recover(folder, store).takes == (1 if taps else 0)
        assert store.count() == (1 if taps else 0)
        if taps:
            assert store.take(1).taps == TAKE.taps[:taps]
        assert list(folder.iterdir()) == []
        store.close()


def test_nonsense_after_a_loss_of_power_ends_the_take_where_it_begins(folder: Path, store: Store) -> None:
    path = written(folder)
    lines = path.read_bytes().split(b"\n")
    lines[6:8] = [b"\0" * 40]
    path.write_bytes(b"\n".join(lines))
    recover(folder, store)
    assert store.take(1).taps == TAKE.taps[:5]


def test_a_take_without_a_tap_is_nothing(folder: Path, store: Store) -> None:
    written(folder, taps=0)
    assert recover(folder, store).takes == 0
    assert list(folder.iterdir()) == []


def test_a_file_that_is_no_take_is_put_aside_and_said(folder: Path, store: Store) -> None:
    written(folder)
    (folder / f"odd{ENDING}").write_text('["song", 3]\n')
    found = recover(folder, store)
    assert found.takes == 1
    assert "1 take" not in found.note
    assert "An unfinished take cannot be read (the file does not begin with a take" in found.note
    assert f"it lies in {folder / 'odd.unread'}." in found.note
    assert [each.name for each in folder.iterdir()] == ["odd.unread"]


def test_the_take_of_a_window_that_is_still_open_is_left_alone(folder: Path, store: Store) -> None:
    journal = Journal.begin(folder, TAKE)
    for tap in TAKE.taps:
        journal.tap(tap)
    assert recover(folder, store) == recover(folder / "nowhere", store)
    assert store.count() == 0
    journal.leave()
    assert recover(folder, store).takes == 1


def test_records_that_cannot_be_written_leave_the_file_for_another_time(folder: Path, store: Store) -> None:
    written(folder)
    pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
    store._connection.execute(f"PRAGMA max_page_count = {pages}")
    for n in range(200):  # until the last page is full too
        try:
            store.keep(a_take(minutes=n))
        except StoreProblem:
            break
    found = recover(folder, store)
    assert found.takes == 0
    assert found.note.startswith("A take could not be saved: there is no room on the disk")
    assert len(list(folder.iterdir())) == 1


def test_a_disk_that_fills_while_playing_is_remembered_and_stops_nothing(folder: Path) -> None:
    """/dev/full answers every write as a full disk does (full(4))."""
    if not Path("/dev/full").exists():
        pytest.skip("there is no /dev/full here")
    journal = Journal(folder, os.open("/dev/full", os.O_WRONLY))
    for tap in TAKE.taps:
        journal.tap(tap)
    journal.ends(TAKE)
    assert journal.problem == "No space left on device"
    journal.leave()


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreProblem, match=r"cannot be written down .* until then a take is kept only when"):
        Journal.begin(tmp_path / "file" / "running", TAKE)


def test_each_tap_is_one_short_line(folder: Path) -> None:
    lines = written(folder).read_text().splitlines()
    first = TAKE.taps[0]
    assert first.hand is not None
    assert json.loads(lines[1]) == [
        "tap", round(first.song_s * 1e6), first.hand.value, first.string, first.velocity, 0,
    ]  # fmt: skip
    assert max(len(line) for line in lines[1:]) < 60
