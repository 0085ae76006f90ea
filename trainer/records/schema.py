"""Open the file of records: make it, bring an old one up to date, refuse a newer, set a damaged one aside.

Every version of the tables is made from the one before, in one transaction together with its number
(``PRAGMA user_version``), so an interrupted change leaves the old file as it was. A copy is made first.

- Version 1: players, patterns by the hash of their text, takes, packed taps.
- Version 2: what tells a take from all others (``uid``), a row for each tempo rung, the fastest clean tempo.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import StoreProblem
from trainer.judging.pocket import Pocket
from trainer.music.notation import read_pattern
from trainer.practice.stored_take import StoredTake, summarised
from trainer.records.packing import read_feel, read_spans, uid_of, unpack_taps

VERSION = 2
OUR_FILE = 0x74686D62  # PRAGMA application_id: "thmb"
PATIENCE_S = 3.0  # for another program that is just writing
HEADER_BYTES = 100
MAGIC = b"SQLite format 3\x00"  # and the places below: sqlite.org/fileformat2.html, section 1.3
VERSION_AT = 60
APPLICATION_AT = 68
COMPANIONS = ("", "-wal", "-shm", "-journal")

_VERSION_1 = """
CREATE TABLE players (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE patterns (
    id INTEGER PRIMARY KEY, hash TEXT NOT NULL UNIQUE, name TEXT NOT NULL, title TEXT NOT NULL,
    text TEXT NOT NULL
);
CREATE TABLE takes (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    player_id INTEGER NOT NULL REFERENCES players, pattern_id INTEGER NOT NULL REFERENCES patterns,
    begun TEXT NOT NULL, day INTEGER NOT NULL, spans TEXT NOT NULL, passes INTEGER NOT NULL,
    slots_asked INTEGER NOT NULL, swing TEXT NOT NULL, layback TEXT NOT NULL, pocket TEXT NOT NULL,
    input_name TEXT NOT NULL, sound TEXT NOT NULL, delay_ms INTEGER NOT NULL, click_off INTEGER NOT NULL,
    knows_left INTEGER NOT NULL, simulated INTEGER NOT NULL, not_graded TEXT NOT NULL,
    seconds_played REAL NOT NULL, asked INTEGER NOT NULL, clean INTEGER NOT NULL, mean_s REAL, spread_s REAL
);
CREATE TABLE taps (take_id INTEGER PRIMARY KEY REFERENCES takes ON DELETE CASCADE, packed BLOB NOT NULL);
"""
_VERSION_2 = """
ALTER TABLE takes ADD COLUMN uid TEXT NOT NULL DEFAULT '';
ALTER TABLE takes ADD COLUMN fastest REAL;
ALTER TABLE takes ADD COLUMN top REAL NOT NULL DEFAULT 0;
CREATE TABLE rungs (
    take_id INTEGER NOT NULL REFERENCES takes ON DELETE CASCADE, number INTEGER NOT NULL,
    bpm TEXT NOT NULL, bpm_value REAL NOT NULL, passes INTEGER NOT NULL, clean_passes INTEGER NOT NULL,
    clean_in_a_row INTEGER NOT NULL, held INTEGER NOT NULL, asked INTEGER NOT NULL, clean INTEGER NOT NULL,
    taps INTEGER NOT NULL, mean_s REAL, spread_s REAL, PRIMARY KEY (take_id, number)
) WITHOUT ROWID;
"""
# Each question that a picture of progress asks is answered from one of these alone, but for the rungs.
_INDEXES_2 = """
CREATE UNIQUE INDEX takes_by_uid ON takes (uid);
CREATE INDEX takes_by_time ON takes (begun);
CREATE INDEX takes_by_pattern ON takes (player_id, pattern_id, day, simulated, not_graded, fastest);
CREATE INDEX takes_by_day ON takes (player_id, day, simulated, seconds_played);
CREATE INDEX takes_in_order ON takes (player_id, begun, pattern_id, day, simulated, fastest, top);
"""

_SPEAKABLE = {
    sqlite3.SQLITE_FULL: ("there is no room on the disk for the records in {path}", "free some space"),
    sqlite3.SQLITE_READONLY: ("the records in {path} may not be written", "mend the folder's rights"),
    sqlite3.SQLITE_PERM: ("the records in {path} may not be written", "mend the folder's rights"),
    sqlite3.SQLITE_CANTOPEN: ("the records in {path} cannot be opened", "mend the folder or choose another"),
    sqlite3.SQLITE_IOERR: (
        "the disk failed while reading or writing the records in {path}",
        "check the disk",
    ),
    sqlite3.SQLITE_BUSY: ("another program is using the records in {path}", "close it and try again"),
    sqlite3.SQLITE_LOCKED: ("another program is using the records in {path}", "close it and try again"),
    sqlite3.SQLITE_PROTOCOL: ("another program is using the records in {path}", "close it and try again"),
    sqlite3.SQLITE_CORRUPT: (
        "the records in {path} are damaged",
        "mend them with: thumbfall records --check",
    ),
    sqlite3.SQLITE_NOTADB: ("the records in {path} are damaged", "mend them with: thumbfall records --check"),
}
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A file of records that is open, and a sentence about what had to be done first, or an empty text."""

    connection: sqlite3.Connection
    note: str = ""


def open_file(path: Path) -> Opened:
    """Open the file of records, making it and its folder where there is none.

    Raises:
        StoreProblem: it cannot be opened or written, it is another program's, or a newer version made it.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        damaged = not _is_ours(path)
    except StoreProblem:
        raise
    except OSError as err:
        raise StoreProblem(
            f"the records in {path} cannot be opened ({err.strerror})", "mend the folder or choose another"
        ) from err
    if not damaged:
        try:
            return Opened(connection=_connected(path))
        except sqlite3.DatabaseError as err:
            if _code(err) not in _DAMAGED:
                with speaking(path):
                    raise
    aside = set_aside(path)
    with speaking(path):
        connection = _connected(path)
    note = f"The records in {path} are damaged; they are put aside as {aside.name} and new ones are begun."
    return Opened(connection=connection, note=note)


def prepare(connection: sqlite3.Connection, path: Path) -> None:
    """Set a fresh connection up and bring the file to the present version.

    Raises:
        StoreProblem: another program's file, or one of a newer version.
        sqlite3.Error: whatever the library finds.
    """
    version = _number(connection, "user_version")
    tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if tables and _number(connection, "application_id") != OUR_FILE:
        raise _not_ours(path)
    if version > VERSION:
        raise _newer(path, version)
    # Write-ahead logging needs memory shared between programs, which not every folder offers; the old way
    # is as safe and only slower.
    if connection.execute("PRAGMA journal_mode = WAL").fetchone()[0] != "wal":
        connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA secure_delete = ON")  # a name taken away leaves no trace in the file
    if version < VERSION:
        if version:
            copy_to(connection, _free_name(path.with_name(f"{path.stem}.version-{version}{path.suffix}")))
        _migrate(connection)


def copy_to(connection: sqlite3.Connection, path: Path) -> None:
    """Copy the whole file as it is at this moment, also while others write."""
    copy = sqlite3.connect(path)
    try:
        connection.backup(copy)
    finally:
        copy.close()


def set_aside(path: Path) -> Path:
    """Rename a damaged file, and what belongs to it, out of the way; return its new name.

    Raises:
        StoreProblem: the folder cannot be written.
    """
    aside = _free_name(path.with_name(path.name + ".damaged"))
    try:
        for companion in COMPANIONS:
            each = path.with_name(path.name + companion)
            if each.exists():
                each.replace(aside.with_name(aside.name + companion))
    except OSError as err:
        raise StoreProblem(
            f"the records in {path} are damaged and cannot be put aside ({err.strerror})",
            "move the file yourself",
        ) from err
    return aside


@contextmanager
def one_transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Let all that is written inside be kept together or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


@contextmanager
def speaking(path: Path) -> Iterator[None]:
    """Turn what the library finds wrong with the file, the disk or the folder into a sentence."""
    try:
        yield
    except sqlite3.DatabaseError as err:
        words = _SPEAKABLE.get(_code(err))
        if words is None:
            raise  # a fault of ours, such as a wrong statement
        problem, remedy = words
        raise StoreProblem(problem.format(path=path), remedy) from err


def _connected(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=PATIENCE_S, isolation_level=None)
    try:
        prepare(connection, path)
    except BaseException:
        connection.close()
        raise
    return connection


def _is_ours(path: Path) -> bool:
    """Return whether a file can be opened as records; False when it is no such file at all.

    Looked at as plain bytes, so that a file that is refused stays as it is to the last bit.

    Raises:
        StoreProblem: another program's file, or one of a newer version.
        OSError: it cannot be read.
    """
    try:
        with path.open("rb") as file:
            header = file.read(HEADER_BYTES)
    except FileNotFoundError:
        return True
    if not header:
        return True
    if len(header) < HEADER_BYTES or not header.startswith(MAGIC):
        return False
    application = int.from_bytes(header[APPLICATION_AT : APPLICATION_AT + 4])
    version = int.from_bytes(header[VERSION_AT : VERSION_AT + 4])
    # Both are nought while the first tables stand only in the write-ahead log.
    if application not in (0, OUR_FILE):
        raise _not_ours(path)
    if application == OUR_FILE and version > VERSION:
        raise _newer(path, version)
    return True


def _migrate(connection: sqlite3.Connection) -> None:
    with one_transaction(connection):
        # Asked again inside: another window may just have done it.
        for step in _STEPS[_number(connection, "user_version") :]:
            step(connection)
        connection.execute(f"PRAGMA user_version = {VERSION}")
        connection.execute(f"PRAGMA application_id = {OUR_FILE}")


def _to_1(connection: sqlite3.Connection) -> None:
    _run(connection, _VERSION_1)


def _to_2(connection: sqlite3.Connection) -> None:
    _run(connection, _VERSION_2)
    for (take_id,) in connection.execute("SELECT id FROM takes ORDER BY id").fetchall():
        _fill_2(connection, take_id)
    _run(connection, _INDEXES_2)


def _fill_2(connection: sqlite3.Connection, take_id: int) -> None:
    """Judge a take of version 1 again for its rungs, and name it."""
    row = connection.execute(
        "SELECT name, text, begun, day, spans, passes, slots_asked, swing, layback, pocket, knows_left,"
        " simulated, not_graded, packed FROM takes JOIN patterns ON patterns.id = pattern_id"
        " LEFT JOIN taps ON take_id = takes.id WHERE takes.id = ?",
        (take_id,),
    ).fetchone()
    name, text, begun, day, spans, passes, slots, swing, layback, pocket, *rest = row
    knows_left, simulated, not_graded, packed = rest
    take = summarised(
        StoredTake(
            begun=begun,
            day=day,
            pattern=read_pattern(text, name=name),
            timeline=read_spans(spans),
            passes=passes,
            slots_asked=slots,
            feel=read_feel(swing, layback),
            pocket=Pocket.named(pocket),
            knows_left=bool(knows_left),
            simulated=bool(simulated),
            not_graded=not_graded,
            taps=unpack_taps(packed or b""),
        )
    )
    fastest = None if take.fastest_clean is None else float(take.fastest_clean)
    connection.execute(
        "UPDATE takes SET uid = ?, fastest = ?, top = ? WHERE id = ?",
        (uid_of(take), fastest, float(take.fastest_played), take_id),
    )
    connection.executemany(
        "INSERT INTO rungs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                take_id, number, str(r.bpm), float(r.bpm), r.passes, r.clean_passes, r.clean_in_a_row,
                r.held, r.asked, r.clean, r.taps, r.mean_s, r.spread_s,
            )
            for number, r in enumerate(take.rungs)
        ],
    )  # fmt: skip


_STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (_to_1, _to_2)


def _run(connection: sqlite3.Connection, statements: str) -> None:
    # Not executescript, which would first end the transaction.
    for statement in statements.split(";"):
        if statement.strip():
            connection.execute(statement)


def _number(connection: sqlite3.Connection, pragma: str) -> int:
    return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])


def _code(err: sqlite3.Error) -> int:
    # The lowest byte is the plain code; the rest says more exactly what.
    return (getattr(err, "sqlite_errorcode", None) or 0) & 0xFF


def _free_name(path: Path) -> Path:
    found, n = path, 1
    while found.exists():
        n += 1
        found = path.with_name(f"{path.stem}-{n}{path.suffix}")
    return found


def _not_ours(path: Path) -> StoreProblem:
    return StoreProblem(f"{path} is a file of another program", "choose another folder for the records")


def _newer(path: Path, version: int) -> StoreProblem:
    return StoreProblem(
        f"the records in {path} were made by a newer Thumbfall (version {version}, this one knows {VERSION})",
        "bring Thumbfall up to date; until then nothing is kept and the file stays as it is",
    )
