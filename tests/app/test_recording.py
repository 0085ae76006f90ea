"""A drill in the window kept in the records: what goes in, and what is said when that fails."""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path

import pytest

from tests.app.playing import Playing, begin, play, taps_for
from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from tests.records.takes import a_take
from trainer.app.drill_result import DrillResult
from trainer.app.recording import IN_MEMORY, SAVED_LATER, Recorder
from trainer.practice.faults import Faults
from trainer.practice.stored_take import judgement_of
from trainer.records.importing import import_takes
from trainer.records.journal import journal_folder
from trainer.records.store import Store

FIGURE = pattern_of(SKIP_FIGURE, BASIC_FIGURE)
NOW = datetime(2026, 3, 2, 0, 30, tzinfo=timezone(timedelta(hours=9)))


def opened(path: Path) -> Recorder:
    recorder, note = Recorder.open(path / "takes.sqlite", lambda: NOW)
    assert note == ""
    return recorder


@pytest.fixture
def recorder(tmp_path: Path) -> Iterator[Recorder]:
    found = opened(tmp_path)
    yield found
    found.close()


def start(recorder: Recorder, playing: Playing, player: str = "Ann") -> str:
    return recorder.begins(
        playing.run, playing.drill, player=player, input_name="pads", sound="default", delay_ms=12
    )


def played_through(
    recorder: Recorder, *, stop_s: float | None = None, jitter_s: float = 0.012
) -> DrillResult:
    playing = begin(FIGURE)
    assert start(recorder, playing) == ""
    for tap in taps_for(FIGURE, playing.drill.timeline, jitter_s=jitter_s):
        if stop_s is None or tap.song_s <= stop_s:
            play(playing, [tap])
            recorder.tap(tap)
    return playing.ended(stop_s=stop_s)


def running(recorder: Recorder) -> list[str]:
    assert recorder.store is not None
    folder = journal_folder(recorder.store.path)
    return sorted(each.name for each in folder.iterdir()) if folder.exists() else []


@pytest.mark.parametrize("stop_s", [None, 3.3])
def test_a_drill_is_kept_as_it_was_played(recorder: Recorder, stop_s: float | None) -> None:
    played = played_through(recorder, stop_s=stop_s, jitter_s=0.03)
    assert len(running(recorder)) == 1
    assert recorder.ends(played) == ""
    assert running(recorder) == []
    assert recorder.store is not None
    assert recorder.last_id is not None
    take = recorder.store.take(recorder.last_id)
    assert (take.player, take.input_name, take.sound, take.delay_ms) == ("Ann", "pads", "default", 12)
    assert (take.asked, take.clean) == (played.summary.asked, played.summary.clean)
    assert take.mean_s == pytest.approx(played.summary.placement.mean_s)
    again = judgement_of(take)
    assert [(o.verdict, o.placement_s) for o in again.outcomes] == [
        (o.verdict, o.placement_s) for o in played.judgement.outcomes
    ]


def test_the_day_is_the_players_own_and_the_moment_is_in_utc(recorder: Recorder) -> None:
    recorder.ends(played_through(recorder))
    assert recorder.store is not None
    (row,) = recorder.store.takes()
    assert row.begun == "2026-03-01T15:30:00.000000Z"
    assert row.day == datetime(2026, 3, 2, tzinfo=UTC).toordinal()


def test_what_spoilt_the_take_and_the_click_are_kept_with_it(recorder: Recorder) -> None:
    played = replace(played_through(recorder), not_graded="the input was unplugged", click_off=True)
    recorder.ends(played)
    assert recorder.store is not None
    take = recorder.store.take(1)
    assert (take.not_graded, take.click_off) == ("the input was unplugged", True)


def test_simulated_hands_are_not_kept(recorder: Recorder) -> None:
    playing = begin(FIGURE, hands=Faults())
    assert start(recorder, playing) == ""
    taps = taps_for(FIGURE, playing.drill.timeline)
    play(playing, taps)
    recorder.tap(taps[0])
    assert running(recorder) == []
    assert recorder.ends(playing.ended()) == ""
    assert recorder.store is not None
    assert recorder.store.count() == 0


def test_a_drill_without_a_tap_is_not_kept_and_leaves_no_file(recorder: Recorder) -> None:
    playing = begin(FIGURE)
    start(recorder, playing)
    assert recorder.ends(playing.ended()) == ""
    assert recorder.store is not None
    assert (recorder.store.count(), running(recorder)) == (0, [])
    start(recorder, begin(FIGURE))
    start(recorder, begin(FIGURE))
    assert len(running(recorder)) == 1


def test_a_change_of_tempo_is_kept(recorder: Recorder) -> None:
    playing = begin(FIGURE)
    start(recorder, playing)
    playing.drill.change_tempo(Fraction(132), 0.0)
    recorder.retempo(playing.drill.timeline)
    taps = taps_for(FIGURE, playing.drill.timeline)
    play(playing, taps)
    for tap in taps:
        recorder.tap(tap)
    recorder.ends(playing.ended())
    assert recorder.store is not None
    take = recorder.store.take(1)
    assert take.timeline == playing.drill.timeline
    assert [rung.bpm for rung in take.rungs] == [120, 132]


def test_a_drill_that_was_killed_is_taken_in_at_the_next_start(tmp_path: Path) -> None:
    recorder = opened(tmp_path)
    played = played_through(recorder)
    recorder.close()  # as a kill does, without the end
    again, note = Recorder.open(tmp_path / "takes.sqlite", lambda: NOW)
    assert note == "A take that was broken off was saved."
    assert again.store is not None
    assert len(again.store.take(1).taps) == len(played.drill.taps)
    again.close()


def test_a_full_disk_is_said_and_the_take_comes_in_later(recorder: Recorder) -> None:
    """SQLite's own error for a full disk, brought about by a limit on the file's pages."""
    store = recorder.store
    assert store is not None
    pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
    store._connection.execute(f"PRAGMA max_page_count = {pages}")
    said = ""
    while not said:
        said = recorder.ends(played_through(recorder))
    before = store.count()
    assert said.startswith(f"there is no room on the disk for the records in {store.path}; free some space.")
    assert said.endswith(SAVED_LATER)
    recorder.close()
    again, note = Recorder.open(store.path, lambda: NOW)
    assert note == "A take that was broken off was saved."
    assert again.store is not None
    assert again.store.count() == before + 1
    assert again.ends(played_through(again)) == ""
    again.close()


def test_without_a_place_for_the_running_take_it_is_said_each_time_and_kept_at_its_end(
    recorder: Recorder,
) -> None:
    assert recorder.store is not None
    journal_folder(recorder.store.path).write_text("in the way")
    playing = begin(FIGURE)
    for _ in range(2):
        assert "cannot be written down" in start(recorder, playing)
    taps = taps_for(FIGURE, playing.drill.timeline)
    play(playing, taps)
    recorder.tap(taps[0])
    assert recorder.ends(playing.ended()) == ""
    assert recorder.store.count() == 1
    recorder.store._connection.execute("PRAGMA query_only = ON")  # then SQLite says READONLY
    playing = begin(FIGURE)
    start(recorder, playing)
    play(playing, taps)
    said = recorder.ends(playing.ended())
    assert "may not be written; mend the folder's rights." in said
    assert said.endswith(IN_MEMORY)
    recorder.store._connection.execute("PRAGMA query_only = OFF")
    assert recorder.calm(0) == "The records can be used again: 1 take kept."
    assert recorder.store.count() == 2


def test_takes_that_found_no_place_at_all_are_written_for_an_import(
    recorder: Recorder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert recorder.store is not None
    path = recorder.store.path
    journal_folder(path).write_text("in the way")
    recorder.store._connection.execute("PRAGMA query_only = ON")
    playing = begin(FIGURE)
    start(recorder, playing)
    play(playing, taps_for(FIGURE, playing.drill.timeline))
    recorder.ends(playing.ended())
    monkeypatch.setattr("tempfile.gettempdir", lambda: str(tmp_path / "passing"))
    (tmp_path / "passing").mkdir()
    said = recorder.close()
    (written,) = (tmp_path / "passing").iterdir()
    assert said == f"1 take could not be kept. Take them in with: thumbfall import {written}"
    store = Store.open(path)
    assert import_takes(written, store).new == 1
    store.close()


def test_records_that_cannot_be_opened_are_said_every_time_and_the_take_is_written_down(
    tmp_path: Path,
) -> None:
    path = tmp_path / "takes.sqlite"
    store = Store.open(path)
    store._connection.execute("PRAGMA user_version = 99")
    store.close()
    recorder, note = Recorder.open(path, lambda: NOW)
    assert "newer Thumbfall" in note
    assert note.endswith("Until then no take is in the records.")
    for takes in (1, 2):
        playing = begin(FIGURE)
        assert start(recorder, playing) == note
        taps = taps_for(FIGURE, playing.drill.timeline)
        play(playing, taps)
        for tap in taps:
            recorder.tap(tap)
        said = recorder.ends(playing.ended())
        assert said == f"{note} {SAVED_LATER}"
        assert len(list(journal_folder(path).iterdir())) == takes
    assert recorder.problem == note
    recorder.close()
    assert len(list(journal_folder(path).iterdir())) == 2


def test_a_store_that_is_busy_at_the_start_is_tried_again_and_nothing_is_lost(tmp_path: Path) -> None:
    path = tmp_path / "takes.sqlite"
    Store.open(path).close()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    other.execute("CREATE TABLE x (a)")
    recorder, note = Recorder.open(path, lambda: NOW)
    assert note.startswith(f"another program is using the records in {path}; close it and try again.")
    playing = begin(FIGURE)
    assert start(recorder, playing) == note
    taps = taps_for(FIGURE, playing.drill.timeline)
    play(playing, taps)
    for tap in taps:
        recorder.tap(tap)
    assert recorder.ends(playing.ended()).endswith(SAVED_LATER)
    assert recorder.calm(0) == ""
    other.execute("ROLLBACK")
    other.close()
    assert recorder.calm(1_000_000_000) == ""  # ten seconds are not over
    assert recorder.calm(11_000_000_000) == "The records can be used again: 1 take kept."
    assert recorder.problem == ""
    assert recorder.store is not None
    assert recorder.store.count() == 1
    assert running(recorder) == []
    assert recorder.ends(played_through(recorder)) == ""
    assert recorder.store.count() == 2
    recorder.close()


@pytest.mark.skipif(os.name != "posix", reason="an open file cannot be removed there")
@pytest.mark.parametrize("how", ["removed", "removed with its folder", "put aside"])
def test_records_that_vanish_while_a_drill_runs_do_not_take_it_with_them(tmp_path: Path, how: str) -> None:
    path = tmp_path / "data" / "takes.sqlite"
    recorder, note = Recorder.open(path, lambda: NOW)
    assert recorder.ends(played_through(recorder)) == note == ""
    playing = begin(FIGURE)
    start(recorder, playing)
    taps = taps_for(FIGURE, playing.drill.timeline)
    play(playing, taps)
    for tap in taps:
        recorder.tap(tap)
    if how == "removed with its folder":
        shutil.rmtree(path.parent)
    else:
        for each in path.parent.glob("takes.sqlite*"):
            if how == "removed":
                each.unlink()
            elif not each.name.endswith("in-use"):
                each.replace(each.with_name(each.name.replace("takes.sqlite", "takes.sqlite.damaged")))
    said = recorder.ends(playing.ended())
    assert said.startswith(f"The file of the records, {path}, was removed or moved; new ones are begun.")
    recorder.close()
    store = Store.open(path)
    assert store.count() == (2 if how == "put aside" else 1)
    assert [len(take.taps) for take in store.each_take()][-1] == len(taps)
    assert not list(journal_folder(path).glob("*"))
    store.close()


def test_records_that_prove_damaged_are_mended_and_the_take_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "takes.sqlite"
    store = Store.open(path)
    store.keep_all(a_take(minutes=n) for n in range(60))
    (root,) = store._connection.execute(
        "SELECT rootpage FROM sqlite_master WHERE name = 'takes_by_uid'"
    ).fetchone()
    store.close()
    with path.open("r+b") as file:
        file.seek((root - 1) * 4096)
        file.write(bytes(4096))
    recorder, note = Recorder.open(path, lambda: NOW)
    assert note == ""  # it does not show yet
    said = recorder.ends(played_through(recorder))
    assert said.startswith("The records were damaged: 60 takes saved, none known to be lost.")
    assert recorder.store is not None
    assert recorder.store.count() == 61
    assert (recorder.problem, running(recorder)) == ("", [])
    recorder.close()


def test_damage_met_by_an_unfinished_take_at_the_start_is_mended(tmp_path: Path) -> None:
    path = tmp_path / "takes.sqlite"
    recorder = opened(tmp_path)
    played_through(recorder)
    recorder.close()  # as a kill does, without the end
    store = Store.open(path)
    (root,) = store._connection.execute(
        "SELECT rootpage FROM sqlite_master WHERE name = 'takes_by_uid'"
    ).fetchone()
    store.keep(a_take())
    store.close()
    with path.open("r+b") as file:
        file.seek((root - 1) * 4096)
        file.write(bytes(4096))
    again, note = Recorder.open(path, lambda: NOW)
    assert "were damaged: 1 take saved" in note
    assert note.endswith("A take that was broken off was saved.")
    assert again.store is not None
    assert again.store.count() == 2
    again.close()


def test_of_a_drill_that_was_killed_the_changes_of_tempo_are_known_too(tmp_path: Path) -> None:
    recorder = opened(tmp_path)
    playing = begin(FIGURE)
    start(recorder, playing)
    playing.drill.change_tempo(Fraction(132), 0.0)
    recorder.retempo(playing.drill.timeline)
    for tap in taps_for(FIGURE, playing.drill.timeline):
        recorder.tap(tap)
    recorder.close()
    again, _note = Recorder.open(tmp_path / "takes.sqlite", lambda: NOW)
    assert again.store is not None
    assert again.store.take(1).timeline == playing.drill.timeline
    assert len(again.store.take(1).timeline.spans) == 2
    again.close()
