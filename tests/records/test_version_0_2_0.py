"""Records, exports and journals that Thumbfall 0.2.0 has written, read without loss.

The files in tests/data/version-0.2.0 were made by that version. What must come out is what that version
itself wrote into its own export, read here by Python's json and csv and by nothing of ours.
"""

import csv
import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.records.takes import a_take
from trainer.practice.stored_take import StoredTake, judgement_of, reached, summarised
from trainer.records import upgrading
from trainer.records.export import write_csv, write_json
from trainer.records.importing import import_takes, read_csv, read_json
from trainer.records.journal import journal_folder, recover
from trainer.records.store import Store

FILES = Path(__file__).parents[1] / "data" / "version-0.2.0"
EXPORTED: list[dict[str, Any]] = json.loads((FILES / "takes.json").read_text(encoding="utf-8"))["takes"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    shutil.copy(FILES / "takes.sqlite", tmp_path)
    return tmp_path / "takes.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    opened = Store.open(path)
    yield opened
    opened.close()


# Fields that 0.2.0 did not have, and what its takes have in them.
NEW: dict[str, object] = {"spared": [], "by_word": "", "placed_by": ""}


def told(takes: Iterator[StoredTake], tmp_path: Path) -> list[dict[str, Any]]:
    """What our own export says of takes, as plain JSON, but for what is new and usual."""
    write_json(tmp_path / "now.json", takes)
    found: list[dict[str, Any]] = json.loads((tmp_path / "now.json").read_text(encoding="utf-8"))["takes"]
    assert all({name: take.pop(name) for name in NEW} == NEW for take in found)
    return found


def test_every_field_of_every_take_is_as_0_2_0_exported_it(store: Store, tmp_path: Path) -> None:
    assert (store.note, store.was_damaged) == ("", False)
    assert told(store.each_take(), tmp_path) == EXPORTED
    assert store.faults() == ()


def test_numbers_stay_and_a_number_that_was_forgotten_is_not_given_again(store: Store) -> None:
    assert [row.id for row in store.takes()] == [6, 5, 3, 2, 1]
    assert store.keep(a_take(minutes=99)) == 7


def test_takes_are_judged_as_they_were(store: Store) -> None:
    for take in store.each_take():
        judged = summarised(take, judgement_of(take))
        assert (judged.asked, judged.clean, judged.rungs) == (take.asked, take.clean, take.rungs)


def test_progress_is_what_it_was(store: Store) -> None:
    """By hand from the export: Ann held 60 clean on three days, Bo nothing."""
    assert store.players() == ("Ann", "Bo Ö.")
    held = {
        (take["day"], rung["bpm"])
        for take in EXPORTED
        for rung in take["rungs"]
        if take["player"] == "Ann" and rung["held"] and not take["not_graded"]
    }
    found = store.fastest_clean_by_day("Ann", "figure")
    fastest = {day: max(Fraction(bpm) for d, bpm in held if d == day) for day, _ in held}
    assert sorted(each.bpm for each in found) == sorted(fastest.values())
    assert len(store.minutes_by_day("Ann", 0)) == len({t["day"] for t in EXPORTED if t["player"] == "Ann"})


def test_the_old_file_is_kept_as_a_copy_of_the_owner_alone(path: Path) -> None:
    Store.open(path).close()
    copy = path.with_name("takes.version-2.sqlite")
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (2,)
        assert connection.execute("SELECT count(*) FROM takes").fetchone() == (5,)
    assert copy.stat().st_mode & 0o077 == 0
    Store.open(path).close()
    assert not path.with_name("takes.version-2-2.sqlite").exists()


def test_brought_up_to_date_the_file_has_the_tables_of_a_new_one(path: Path, tmp_path: Path) -> None:
    tables = []
    for each in (path, tmp_path / "new.sqlite"):
        Store.open(each).close()
        with closing(sqlite3.connect(each)) as connection:
            tables.append(set(connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master")))
    assert tables[0] == tables[1]


def test_a_change_that_is_broken_off_leaves_the_old_file_as_it_was(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(connection: sqlite3.Connection) -> int:
        connection.execute("DELETE FROM old_takes")
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(upgrading, "_take_over", broken)
        with pytest.raises(KeyboardInterrupt):
            Store.open(path)
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (2,)
        assert connection.execute("SELECT count(*) FROM takes").fetchone() == (5,)
    store = Store.open(path)
    assert store.count() == 5
    store.close()


def test_a_take_that_cannot_be_read_is_said_and_the_others_come_over(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE taps SET packed = x'0102' WHERE take_id = 3")
        connection.execute("UPDATE takes SET begun = '0001-01-01T00:00:00.000000Z' WHERE id = 1")
    store = Store.open(path)
    copy = path.with_name("takes.version-2.sqlite")
    assert store.note == (
        f"2 takes of the older version in {path} could not be read; the file as it was is {copy}."
    )
    assert store.was_damaged
    assert [row.id for row in store.takes()] == [6, 5, 2]
    store.close()


def test_its_exports_are_read(tmp_path: Path) -> None:
    assert told(read_json(FILES / "takes.json"), tmp_path) == EXPORTED
    store = Store.open(tmp_path / "fresh.sqlite")
    assert import_takes(FILES / "csv", store).new == 5
    assert import_takes(FILES / "takes.json", store).known == 5
    assert told(store.each_take(), tmp_path) == EXPORTED
    store.close()


def test_its_csv_has_what_ours_has(tmp_path: Path) -> None:
    """Read with Python's csv: every column it had is there, with the same cells."""
    write_csv(tmp_path / "csv", read_csv(FILES / "csv"))
    for name in ("takes.csv", "strokes.csv", "taps.csv"):
        with (FILES / "csv" / name).open(newline="", encoding="utf-8") as old:
            before = list(csv.DictReader(old))
        with (tmp_path / "csv" / name).open(newline="", encoding="utf-8") as new:
            after = list(csv.DictReader(new))
        assert [{key: row[key] for key in before[0]} for row in after] == before


def test_its_journals_are_taken_in(tmp_path: Path) -> None:
    folder = journal_folder(tmp_path / "takes.sqlite")
    folder.mkdir()
    for name in ("broken-off.running", "ended.running"):
        shutil.copy(FILES / name, folder)
    store = Store.open(tmp_path / "takes.sqlite")
    assert recover(folder, store).note == "2 takes that were broken off were saved."
    broken, ended = store.each_take()
    whole = a_take(player="Ann", days=4, passes=2, seed=7)
    assert replace(ended, id=None, uid="") == whole
    timeline = whole.timeline.with_tempo(72, from_beat=Fraction(8))
    head = replace(whole, taps=whole.taps[:9], timeline=timeline)
    assert replace(broken, id=None, uid="") == summarised(reached(head))
    assert list(folder.iterdir()) == []
    store.close()


def test_what_0_2_0_took_for_a_uid_and_is_none_becomes_one(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE takes SET uid = 'my take: no. 1' WHERE id = 2")
    opened = Store.open(path)
    takes = {take.id: take for take in opened.each_take()}
    opened.close()
    assert {number: take.uid for number, take in takes.items() if number != 2} == {
        number: take["uid"] for number, take in zip((1, 3, 5, 6), (EXPORTED[0], *EXPORTED[2:]), strict=True)
    }
    assert len(takes[2].uid) == 32
    assert takes[2].uid.isalnum()
