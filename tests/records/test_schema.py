"""The file of records: made, brought up to date, refused, set aside; and what the disk can do to it."""

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

from tests.records.takes import a_take
from trainer.errors import DamagedRecords, StoreProblem
from trainer.records import schema
from trainer.records.in_use import hold
from trainer.records.mending import Opened
from trainer.records.midi_export import write_midi_file
from trainer.records.schema import prepare
from trainer.records.store import Store
from trainer.records.tables import OUR_FILE, VERSION

ROOT = Path(__file__).parents[2]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "takes.sqlite"


def version_of(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def test_new_records_are_of_the_present_version_and_safe_against_loss_of_power(path: Path) -> None:
    store = Store.open(path)
    connection = store._connection
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)  # sqlite.org/pragma.html: 2 is FULL
    store.close()
    assert version_of(path) == VERSION


@pytest.mark.parametrize("logged", [False, True])
def test_a_newer_file_is_refused_and_left_as_it_is(path: Path, logged: bool) -> None:
    store = Store.open(path)
    store.keep(a_take())
    store._connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    if logged:  # its number stands in the write-ahead log only
        with pytest.raises(StoreProblem, match="newer Thumbfall"):
            Store.open(path)
        store.close()
        return
    store.close()
    before = path.read_bytes()
    with pytest.raises(
        StoreProblem, match=rf"version {VERSION + 1}, this one knows {VERSION}.*bring Thumbfall"
    ):
        Store.open(path)
    assert path.read_bytes() == before
    assert sorted(each.name for each in path.parent.glob("takes*")) == ["takes.sqlite", "takes.sqlite.in-use"]


def test_a_file_of_another_program_is_refused_and_left_as_it_is(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE stamps (id INTEGER)")
    before = path.read_bytes()
    with pytest.raises(StoreProblem, match="another program"):
        Store.open(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("damage", ["text", "short", "pages"])
def test_a_damaged_file_is_set_aside_and_never_deleted(path: Path, damage: str) -> None:
    store = Store.open(path)
    store.keep_all(a_take(minutes=n) for n in range(30))
    store.close()
    data = path.read_bytes()
    broken = {
        "text": b"these are not the takes you are looking for" * 9,
        "short": data[:60],
        "pages": data[:100] + b"\xa5" * (len(data) - 100),
    }[damage]
    path.write_bytes(broken)
    store = Store.open(path)
    aside = path.with_name("takes.sqlite.salvaged")
    assert store.note == (f"The records were damaged: no take could be read. The damaged file is {aside}.")
    assert store.was_damaged
    assert aside.read_bytes() == broken
    assert store.keep(a_take()) == 1
    store.close()
    path.write_bytes(broken)
    Store.open(path).close()
    assert path.with_name("takes.sqlite-2.salvaged").read_bytes() == broken


def test_an_empty_file_is_said(path: Path) -> None:
    path.touch()
    store = Store.open(path)
    assert store.note == f"The file of the records, {path}, was there but empty; new ones are begun."
    assert store.was_damaged
    store.close()


@pytest.mark.parametrize("version", [0, 1])
def test_a_version_that_nobody_was_given_is_refused_and_left_as_it_is(path: Path, version: int) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE takes (a)")
        connection.execute(f"PRAGMA user_version = {version}")
        connection.execute(f"PRAGMA application_id = {OUR_FILE}")
    before = path.read_bytes()
    with pytest.raises(StoreProblem, match=f"of version {version}, which no .*; move the file away"):
        Store.open(path)
    assert path.read_bytes() == before


def test_tables_that_are_not_as_they_were_made_are_damage(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE takes (a)")
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute(f"PRAGMA application_id = {OUR_FILE}")
    store = Store.open(path)
    assert "no take could be read" in store.note
    assert store.keep(a_take()) == 1
    store.close()


@pytest.mark.skipif(os.name != "posix", reason="rights are set otherwise there")
def test_what_others_could_read_is_closed_to_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "data"
    monkeypatch.setattr("trainer.records.own_files.data_folder", lambda: folder)
    folder.mkdir(mode=0o755)
    store = Store.open(folder / "takes.sqlite")
    store.close()
    for each in folder.iterdir():
        each.chmod(0o644)
    store = Store.open(folder / "takes.sqlite")
    store.keep(a_take())
    store.backup(folder / "copy.sqlite")
    assert folder.stat().st_mode & 0o777 == 0o700
    rights = {each.name: each.stat().st_mode & 0o777 for each in folder.iterdir()}
    assert {"takes.sqlite", "takes.sqlite-wal", "copy.sqlite"} <= rights.keys()
    assert set(rights.values()) == {0o600}
    store.close()


@pytest.mark.skipif(os.name != "posix", reason="rights are set otherwise there")
def test_a_folder_of_the_users_choice_keeps_its_rights(tmp_path: Path) -> None:
    tmp_path.chmod(0o755)
    Store.open(tmp_path / "takes.sqlite").close()
    assert tmp_path.stat().st_mode & 0o777 == 0o755
    Store.open(tmp_path / "new" / "takes.sqlite").close()
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o700


def test_a_pipe_in_the_files_place_is_not_waited_for(path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("there are no pipes here")
    os.mkfifo(path)
    with pytest.raises(StoreProblem, match="it is no plain file"):
        Store.open(path)


def test_damage_that_shows_only_later_is_said_with_what_to_do(path: Path) -> None:
    store = Store.open(path)
    store.keep_all(a_take(minutes=n) for n in range(200))
    store.close()
    data = bytearray(path.read_bytes())
    for page in range(12, len(data) // 4096):
        data[page * 4096 : page * 4096 + 64] = b"\xa5" * 64
    path.write_bytes(data)
    store = Store.open(path)
    with pytest.raises(
        StoreProblem, match=r"are damaged; save what can be read of them with: thumbfall records --check"
    ):
        list(store.each_take())
    store.close()


def test_a_folder_that_is_a_file_is_said(path: Path) -> None:
    path.write_text("x")
    with pytest.raises(StoreProblem, match="cannot be opened"):
        Store.open(path / "takes.sqlite")
    (path.parent / "folder.sqlite").mkdir()
    with pytest.raises(StoreProblem, match="cannot be opened"):
        Store.open(path.parent / "folder.sqlite")


# What the disk can do


def test_a_full_disk_is_one_sentence_and_loses_nothing_kept(path: Path) -> None:
    """SQLite's own error for a full disk, brought about by a limit on the file's pages."""
    store = Store.open(path)
    number = store.keep(a_take(player="Ann"))
    pages = store._connection.execute("PRAGMA page_count").fetchone()[0]
    store._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(StoreProblem) as caught:
        store.keep_all(a_take(minutes=n) for n in range(1, 100))
    assert str(caught.value) == f"there is no room on the disk for the records in {path}; free some space."
    assert store.count() == 1
    assert store.take(number).player == "Ann"
    store._connection.execute("PRAGMA max_page_count = 1000000")
    assert store.keep_all(a_take(minutes=n) for n in range(1, 100)) == 99
    store.close()


def test_a_disk_that_is_really_full_is_the_same_sentence(tmp_path: Path) -> None:
    """A file system of one megabyte in memory; only where this user may mount one."""
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "none", str(tmp_path)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("this user may not mount a file system")
    try:
        Store.open(tmp_path / "takes.sqlite").close()
        with suppress(OSError), (tmp_path / "fill").open("wb", buffering=0) as fill:
            while True:
                fill.write(bytes(512))
        # Not even the memory shared between programs can be had, which SQLite calls a failure of the disk.
        with pytest.raises(StoreProblem, match="no room on the disk"):
            Store.open(tmp_path / "takes.sqlite")
        with pytest.raises(StoreProblem, match="No space left"):
            write_midi_file(tmp_path / "x.mid", a_take())
        assert not (tmp_path / "x.mid").exists()
        (tmp_path / "fill").unlink()
        store = Store.open(tmp_path / "takes.sqlite")
        kept = 0
        with pytest.raises(StoreProblem, match="no room on the disk"):  # noqa: PT012 - one of many will fail
            for kept in range(10_000):
                store.keep(a_take(minutes=kept))
        assert store.count() == kept > 10
        assert store._connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        store.close()
    finally:
        subprocess.run(["umount", "-l", str(tmp_path)], check=True)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user may enter."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


@pytest.mark.skipif(os.name != "posix", reason="rights of folders are set otherwise there")
@pytest.mark.parametrize("there", [False, True])
def test_a_read_only_folder_is_one_sentence(open_folder: Path, there: bool) -> None:
    path = open_folder / "takes.sqlite"
    if there:
        Store.open(path).close()
    open_folder.chmod(0o555)
    code = f"""
import os
if os.geteuid() == 0:
    os.setuid(65534)  # everything may be written by root
from pathlib import Path
from trainer.errors import StoreProblem
from trainer.records.store import Store
from trainer.records.tables import OUR_FILE, VERSION
try:
    Store.open(Path({str(path)!r}))
except StoreProblem as problem:
    print(problem)
"""
    # Loaded before the rights are given up, because the checkout may be closed to others.
    code = "import trainer.records.store, tests.records.takes\n" + code
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.stderr == ""
    assert f"{path} may not be written" in done.stdout
    assert done.stdout.count("\n") == 1


def test_another_program_that_writes_for_long_is_said(path: Path) -> None:
    store, other = Store.open(path, 0.05), Store.open(path, 0.05)
    other._connection.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreProblem, match=r"another program is using .*; close it"):
        store.keep(a_take())
    other._connection.execute("ROLLBACK")
    assert store.keep(a_take()) == 1
    store.close()
    other.close()


@pytest.mark.skipif(os.name != "posix", reason="this way of locking is of Unix")
def test_without_shared_memory_the_old_journal_is_used_as_safely(path: Path) -> None:
    """SQLite's dot-file locking cannot share memory, as network folders cannot (sqlite.org/wal.html)."""
    connection = sqlite3.connect(f"file:{path}?vfs=unix-dotfile", uri=True, isolation_level=None)
    prepare(connection, path)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
    held = hold(path, alone=False)
    assert held is not None
    store = Store(Opened(connection=connection, held=held), path)
    assert store.keep(a_take()) == 1
    store.forget_player("", with_takes=True)
    assert store.count() == 0
    store.close()


def test_a_wrong_statement_of_ours_is_no_fault_of_the_users(path: Path) -> None:
    store = Store.open(path)
    with pytest.raises(sqlite3.OperationalError, match="no such table"), schema.speaking(path):
        store._connection.execute("SELECT * FROM missing")
    store.close()


def test_an_error_without_a_code_as_older_pythons_have_them_is_damage(path: Path) -> None:
    """sqlite3.Error has sqlite_errorcode from Python 3.11 on (docs.python.org/3/library/sqlite3.html)."""
    for error in (sqlite3.OperationalError("Could not decode to UTF-8"), sqlite3.DatabaseError("odd")):
        wanted = DamagedRecords if isinstance(error, sqlite3.OperationalError) else sqlite3.DatabaseError
        with pytest.raises(wanted), schema.speaking(path):
            raise error
