"""The file of records: made, brought up to date, refused, set aside; and what the disk can do to it."""

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from tests.records.takes import a_take
from trainer.errors import StoreProblem
from trainer.practice.stored_take import judgement_of
from trainer.records import schema
from trainer.records.schema import VERSION, prepare
from trainer.records.store import Store

ROOT = Path(__file__).parents[2]
OLD_FILE = ROOT / "tests" / "data" / "records-version-1.sql"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "takes.sqlite"


def old_file(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(OLD_FILE.read_text(encoding="utf-8"))


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


def test_version_1_is_brought_up_to_date_without_loss(path: Path) -> None:
    """The old file was written by the statements of its time; the takes in it can be made again."""
    old_file(path)
    store = Store.open(path)
    expected = [
        a_take(player="Ann"),
        a_take(bpm="97.3", minutes=5, jitter_s=0.03, seed=2),
        a_take(player="Ann", days=1, passes=3, bpm=66, seed=3, not_graded="the sound was interrupted"),
    ]
    found = [store.take(number) for number in (1, 2, 3)]
    assert [replace(take, id=None, uid="") for take in found] == expected
    assert [judgement_of(take) for take in found] == [judgement_of(take) for take in expected]
    assert len({take.uid for take in found}) == 3
    assert store.patterns_played("Ann")[0].fastest_clean == 60
    assert store.keep(a_take(minutes=9)) == 4
    store.close()


def test_brought_up_to_date_the_file_has_the_tables_of_a_new_one(path: Path, tmp_path: Path) -> None:
    old_file(path)
    tables = []
    for each in (path, tmp_path / "new.sqlite"):
        Store.open(each).close()
        with closing(sqlite3.connect(each)) as connection:
            sql = connection.execute(
                "SELECT type, name, sql FROM sqlite_master ORDER BY type, name"
            ).fetchall()
        tables.append([(kind, name, " ".join((text or "").split())) for kind, name, text in sql])
    assert tables[0] == tables[1]


def test_a_copy_of_the_old_file_is_kept(path: Path) -> None:
    old_file(path)
    Store.open(path).close()
    copy = path.with_name("takes.version-1.sqlite")
    assert version_of(copy) == 1
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT count(*) FROM takes").fetchone() == (3,)


def test_a_step_that_fails_leaves_the_old_file_as_it_was(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    old_file(path)

    def broken(connection: sqlite3.Connection) -> None:
        connection.execute("DELETE FROM takes")
        raise KeyboardInterrupt

    monkeypatch.setattr(schema, "_STEPS", (schema._STEPS[0], broken))
    with pytest.raises(KeyboardInterrupt):
        Store.open(path)
    assert version_of(path) == 1
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("SELECT count(*) FROM takes").fetchone() == (3,)


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
    assert sorted(each.name for each in path.parent.iterdir()) == ["takes.sqlite"]


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
    assert store.note == (
        f"The records in {path} are damaged; they are put aside as takes.sqlite.damaged "
        "and new ones are begun."
    )
    assert path.with_name("takes.sqlite.damaged").read_bytes() == broken
    assert store.keep(a_take()) == 1
    store.close()
    path.write_bytes(broken)
    Store.open(path).close()
    assert path.with_name("takes.sqlite-2.damaged").exists()


def test_damage_that_shows_only_later_is_said_with_what_to_do(path: Path) -> None:
    store = Store.open(path)
    store.keep_all(a_take(minutes=n) for n in range(200))
    store.close()
    data = bytearray(path.read_bytes())
    for page in range(12, len(data) // 4096):
        data[page * 4096 : page * 4096 + 64] = b"\xa5" * 64
    path.write_bytes(data)
    store = Store.open(path)
    with pytest.raises(StoreProblem, match=r"are damaged; mend them with: thumbfall records --check"):
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
    verb = "may not be written" if there else "cannot be opened"
    assert f"{path} {verb}" in done.stdout
    assert done.stdout.count("\n") == 1


def test_another_program_that_writes_for_long_is_said(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schema, "PATIENCE_S", 0.05)
    store, other = Store.open(path), Store.open(path)
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
    store = Store(connection, path)
    assert store.keep(a_take()) == 1
    store.forget_player("", with_takes=True)
    assert store.count() == 0
    store.close()


def test_a_wrong_statement_of_ours_is_no_fault_of_the_users(path: Path) -> None:
    store = Store.open(path)
    with pytest.raises(sqlite3.OperationalError, match="no such table"), schema.speaking(path):
        store._connection.execute("SELECT * FROM missing")
    store.close()
