"""A damaged file looked over, what can still be read of it saved, and what is said about it."""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from tests.benchmarks.pages_study import PAGE, TAKES, intact, one_page, records_to_damage
from tests.records.takes import a_take
from trainer.errors import DamagedRecords, StoreProblem
from trainer.records import mending
from trainer.records.in_use import hold
from trainer.records.mending import Mended, mend, mended_words, put_aside
from trainer.records.salvage import salvage
from trainer.records.sqlite_pages import rows_on_pages
from trainer.records.store import Store

VERSION_2 = Path(__file__).parents[1] / "data" / "version-0.2.0" / "takes.sqlite"


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("good") / "takes.sqlite"
    records_to_damage(path)
    return path


@pytest.fixture
def path(good: Path, tmp_path: Path) -> Path:
    shutil.copy(good, tmp_path)
    return tmp_path / good.name


def spoil(path: Path, at: int, data: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(at)
        file.write(data)


def test_good_records_have_no_faults_and_hold_what_they_hold(path: Path) -> None:
    store = Store.open(path)
    assert (store.faults(), store.note, store.count()) == ((), "", TAKES)
    store.close()


@pytest.mark.parametrize("path_of", [None, VERSION_2])
def test_page_by_page_a_whole_file_gives_what_sqlite_gives(good: Path, path_of: Path | None) -> None:
    """The reference is SQLite's own reading of the same tables."""
    source = path_of or good
    with closing(sqlite3.connect(f"file:{source}?immutable=1", uri=True)) as connection:
        tables = [
            name
            for name, sql in connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'")
            if "WITHOUT ROWID" not in sql
        ]
        expected = {
            (number, *values[1:])
            for table in tables
            for number, *values in connection.execute(f"SELECT rowid, * FROM {table}")
        }
    found = {(row.number, *row.values[1:]) for row in rows_on_pages(source, PAGE) if row.number is not None}
    assert expected <= found


@pytest.mark.parametrize("page", [1, 2, 3, 4, 5, 9, 14, 20, 33])
def test_one_lost_page_loses_only_the_takes_that_lie_on_it(good: Path, tmp_path: Path, page: int) -> None:
    """tests.benchmarks.pages_study does the same with every page."""
    found = one_page(good, tmp_path, page, seed=page)
    assert (found.lost_beside, found.invented, found.crashes) == (0, 0, 0)
    assert found.said


@pytest.mark.parametrize("bytes_left", [1, 99, 100, 4096, 8192, 20_000, 0.5, -100, -PAGE])
def test_of_a_file_that_is_cut_off_all_takes_before_the_cut_are_saved(path: Path, bytes_left: float) -> None:
    size = path.stat().st_size
    left = int(size * bytes_left if bytes_left == 0.5 else bytes_left % size)
    whole = intact(path, range(1, left // PAGE + 1))
    os.truncate(path, left)
    store = Store.open(path)
    faults = store.faults() if not store.was_damaged else ()
    store.close()
    if faults:
        mend(path)
    store = Store.open(path)
    assert whole <= {take.uid for take in store.each_take()}
    assert store.faults() == ()
    store.close()
    assert len(list(path.parent.glob("*.salvaged"))) == 1


def test_the_last_takes_are_saved_from_the_write_ahead_log_too(path: Path, tmp_path: Path) -> None:
    store = Store.open(path)
    number = store.keep(a_take(player="Late", minutes=9999))
    there = tmp_path / "killed"
    there.mkdir()
    for each in tmp_path.glob("takes.sqlite*"):
        shutil.copy(each, there)  # as a program that is killed leaves it
    store.close()
    killed = there / "takes.sqlite"
    assert killed.with_name("takes.sqlite-wal").stat().st_size
    spoil(killed, 0, b"garbage garbage!")
    store = Store.open(killed)
    assert store.take(number).player == "Late"
    assert store.count() == TAKES + 1
    store.close()


@pytest.mark.parametrize("place", range(0, 100, 3))
def test_a_byte_of_the_header_loses_nothing(path: Path, place: int) -> None:
    data = path.read_bytes()[place]
    spoil(path, place, bytes([data ^ 0xFF]))
    before = path.read_bytes()
    try:
        store = Store.open(path)
    except StoreProblem:
        assert path.read_bytes() == before  # refused with a sentence, and not touched
        return
    if store.faults():
        store.close()
        mend(path)
        store = Store.open(path)
    assert len(list(store.each_take())) == TAKES
    store.close()


def test_one_bit_in_one_take_is_found_and_costs_that_take_alone(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        (body,) = connection.execute("SELECT body FROM takes WHERE id = 17").fetchone()
    at = path.read_bytes().index(body[:64]) + 40
    spoil(path, at, bytes([path.read_bytes()[at] ^ 0x10]))
    store = Store.open(path)
    with pytest.raises(DamagedRecords, match=r"take 17 is damaged; .* thumbfall records --check"):
        store.take(17)
    unread: list[int] = []
    assert len(list(store.each_take(unread=unread))) == TAKES - 1
    assert unread == [17]
    assert any("take 17 is damaged" in fault for fault in store.faults())
    store.close()
    done = mend(path)
    assert (done.saved, list(done.lost)) == (TAKES - 1, [17])


def test_a_column_that_says_otherwise_than_the_take_is_found_and_mended(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE takes SET clean = clean + 64 WHERE id = 3")
    store = Store.open(path)
    assert store.faults() == ("take 3 is listed otherwise than it was played",)
    store.close()
    done = mend(path)
    assert (done.saved, done.lost) == (TAKES, {})
    store = Store.open(path)
    assert store.faults() == ()
    store.close()


def test_of_version_0_2_0_too_a_lost_page_loses_only_what_lies_on_it(tmp_path: Path) -> None:
    """Its takes lie on two pages each, those of the row and of the taps; patterns on a third."""
    whole = salvage(VERSION_2)
    assert [take.id for take in whole.takes] == [1, 2, 3, 5, 6]
    pages = VERSION_2.stat().st_size // PAGE
    kept = []
    for page in range(pages):
        shutil.copy(VERSION_2, tmp_path / "takes.sqlite")
        spoil(tmp_path / "takes.sqlite", page * PAGE, bytes(PAGE))
        kept.append(len(salvage(tmp_path / "takes.sqlite").takes))
    assert kept.count(5) >= pages - 3
    assert salvage(VERSION_2).lost == {}


def test_what_was_mended_is_said_with_what_is_lost_and_where_the_rest_lies(path: Path) -> None:
    spoil(path, 0, b"garbage garbage!")
    store = Store.open(path)
    aside = path.with_name("takes.sqlite.salvaged")
    assert store.note == (
        f"The records were damaged: {TAKES} takes saved, none known to be lost. The damaged file is {aside}."
    )
    assert [row.id for row in store.takes(limit=2)] == [TAKES, TAKES - 1]
    store.close()
    store = Store.open(path)
    assert (store.note, store.was_damaged) == ("", False)
    store.close()


def test_records_that_another_window_has_open_are_not_mended(path: Path) -> None:
    window = Store.open(path)
    with pytest.raises(DamagedRecords, match="cannot be mended while Thumbfall is open; close it"):
        mend(path, patience_s=0)
    assert window.keep(a_take(minutes=9999))
    window.close()


def test_while_they_are_mended_they_are_not_opened(path: Path) -> None:
    alone = hold(path, alone=True)
    assert alone is not None
    with pytest.raises(StoreProblem, match="just moving or mending the records"):
        Store.open(path, 0)
    alone.leave()
    Store.open(path, 0).close()


def test_a_mending_that_is_broken_off_at_any_step_loses_nothing(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steps = ("_give_second_name", "tighten", "_looked_through")
    for step in steps:
        spoil(path, 0, b"garbage garbage!")

        def broken(*_: object) -> None:
            raise KeyboardInterrupt

        with monkeypatch.context() as patched:
            patched.setattr(mending, step, broken)
            with pytest.raises(KeyboardInterrupt):
                mend(path)
        store = Store.open(path)
        assert store.count() == TAKES
        store.close()


def test_with_the_file_gone_and_a_damaged_one_beside_it_the_takes_come_back(path: Path) -> None:
    spoil(path, 0, b"garbage garbage!")
    path.replace(path.with_name("takes.sqlite.damaged"))  # as version 0.2.0 put it aside
    store = Store.open(path)
    assert store.count() == TAKES
    assert store.was_damaged
    store.close()


def test_a_damaged_file_beside_whole_records_is_looked_through_once(path: Path) -> None:
    aside = path.with_name("takes.sqlite-2.damaged")
    spoil(path, 0, b"garbage garbage!")
    path.replace(aside)
    store = Store(mending.open_file(path.with_name("other.sqlite")), path.with_name("other.sqlite"))
    store.close()
    path.with_name("other.sqlite").replace(path)
    store = Store.open(path)
    own = store.keep(a_take(player="Ann", minutes=99_999))
    assert put_aside(path) == (aside,)
    (done,) = store.take_back()
    assert (done.saved, done.lost) == (TAKES, {})
    assert store.count() == TAKES + 1
    assert store.take(own).player == "Ann"
    assert put_aside(path) == ()
    assert store.take_back() == ()
    store.close()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store.open(tmp_path / "takes.sqlite")
    yield opened
    opened.close()


def test_a_backup_never_writes_over_what_is_no_copy_of_records(store: Store, tmp_path: Path) -> None:
    letter = tmp_path / "letter.sqlite"
    letter.write_text("dear Ann")
    with pytest.raises(ValueError, match="is there already and is no copy of records; name another file"):
        store.backup(letter)
    assert letter.read_text() == "dear Ann"


def test_backups_of_one_name_take_turns(store: Store, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    for n in range(5):
        store.keep(a_take(minutes=n))
        older = store.backup(copy)
        assert (older is None) == (n == 0)
    counts = {}
    for each in tmp_path.glob("copy*.sqlite"):
        with closing(sqlite3.connect(each)) as connection:
            (counts[each.name],) = connection.execute("SELECT count(*) FROM takes").fetchone()
    assert counts == {
        "copy.sqlite": 5,
        "copy.older-1.sqlite": 4,
        "copy.older-2.sqlite": 3,
        "copy.older-3.sqlite": 2,
    }
    with pytest.raises(ValueError, match="is the file of the records itself"):
        store.backup(store.path)


def test_players_stay_apart_even_where_their_names_are_lost(tmp_path: Path) -> None:
    path = tmp_path / "takes.sqlite"
    store = Store.open(path)
    store.keep_all(a_take(player=name, minutes=n) for n, name in enumerate(("Ann", "Bo", "Ann")))
    store.close()
    data = path.read_bytes().replace(b"Ann", b"\xff\xff\xff").replace(b"Bo", b"\xff\xff")
    path.write_bytes(b"garbage garbage!" + data[16:])
    store = Store.open(path)
    found = [take.player for take in store.each_take()]
    assert found[0] == found[2] != found[1]
    assert replace(store.take(1), player="", id=None, uid="") == a_take()
    store.close()


@pytest.mark.parametrize(
    ("saved", "lost", "words"),
    [
        (0, {}, "no take could be read"),
        (1, {}, "1 take saved, none known to be lost"),
        (3, {7: ""}, "3 takes saved, 1 take (7) could not be read"),
        (0, {7: "2026-11-25T18:00:00Z"}, "0 takes saved, 1 take (7 of 2026-11-25) could not be read"),
    ],
)
def test_what_became_of_damaged_records_is_said_in_numbers(
    saved: int, lost: dict[int, str], words: str
) -> None:
    done = Mended(saved=saved, lost=lost, asides=(Path("a.damaged"), Path("b.damaged")))
    assert mended_words(done) == (
        f"The records were damaged: {words}. The damaged file is a.damaged, b.damaged."
    )
    assert mended_words(replace(done, asides=())) == ""
