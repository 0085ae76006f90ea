"""Connect to the file of records: look at it, make it, bring it up to date, refuse it, say what is wrong with
it.

A file of version 0.2.0 is brought up to date after a copy was made (``takes.version-2.sqlite``).
"""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import DamagedRecords, StoreProblem, TrainerError
from trainer.records import version_2
from trainer.records.own_files import own_file, tighten
from trainer.records.salvage import holds_takes
from trainer.records.tables import (
    OUR_FILE,
    VERSION,
    expected_tables,
    make,
    number,
    one_transaction,
    tables_of,
)
from trainer.records.upgrading import bring_up_to_date

LEAST_ROOM_BYTES = 1 << 20  # what a transaction needs
LARGEST_VERSION = 255  # beyond, it is no number of a version but damage
PATIENCE_S = 3.0  # for another program that is just writing
HEADER_BYTES = 100
MAGIC = b"SQLite format 3\x00"  # and the places below: sqlite.org/fileformat2.html, section 1.3
VERSION_AT = 60
APPLICATION_AT = 68
COMPANIONS = ("", "-wal", "-shm", "-journal")

_ELSEWHERE = "mend the folder or choose another"
_BUSY = ("another program is using the records in {path}", "close it and try again")
_CLOSED = ("the records in {path} may not be written", "mend the folder's rights")
_DISK = ("the disk failed while reading or writing the records in {path}", "check the disk")
_SPEAKABLE = {
    sqlite3.SQLITE_FULL: ("there is no room on the disk for the records in {path}", "free some space"),
    sqlite3.SQLITE_READONLY: _CLOSED,
    sqlite3.SQLITE_PERM: _CLOSED,
    sqlite3.SQLITE_CANTOPEN: ("the records in {path} cannot be opened", _ELSEWHERE),
    sqlite3.SQLITE_IOERR: _DISK,
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_PROTOCOL: _BUSY,
}
_OF_THE_SYSTEM = {
    errno.ENOSPC: sqlite3.SQLITE_FULL,
    errno.EDQUOT: sqlite3.SQLITE_FULL,
    errno.EACCES: sqlite3.SQLITE_PERM,
    errno.EPERM: sqlite3.SQLITE_PERM,
    errno.EROFS: sqlite3.SQLITE_PERM,
    errno.EIO: sqlite3.SQLITE_IOERR,
}
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
MEND = "save what can be read of them with: thumbfall records --check"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """A connection to records of the present version, and what could not be brought over from an older one.

    Attributes:
        unread: takes of version 0.2.0 that could not be read; they are in ``copy``.
    """

    connection: sqlite3.Connection
    unread: int = 0
    copy: Path | None = None


def connect(path: Path, patience_s: float = PATIENCE_S) -> Ready:
    """Connect to the file of records, make it where there is none, bring it up to date where it is old.

    Raises:
        DamagedRecords: it is damaged in a way that shows now.
        StoreProblem: it cannot be opened or written, is another program's, or a newer version made it.
    """
    look_at(path)
    with speaking(path):
        own_file(path)
        connection = sqlite3.connect(path, timeout=patience_s, isolation_level=None)
        try:
            return prepare(connection, path)
        except BaseException:
            connection.close()
            raise


def prepare(connection: sqlite3.Connection, path: Path) -> Ready:
    """Set a fresh connection up and bring the file to the present version.

    Raises:
        DamagedRecords: its tables are not what they were made as.
        StoreProblem: another program's file, or one of another version.
        sqlite3.Error: whatever the library finds.
    """
    try:
        version = number(connection, "user_version")
        tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if tables and number(connection, "application_id") != OUR_FILE:
            raise _not_ours(path)
        _must_be_known(path, version, tables)
        # Write-ahead logging needs memory shared between programs, which not every folder offers; the old way
        # is as safe and only slower.
        if connection.execute("PRAGMA journal_mode = WAL").fetchone()[0] != "wal":
            connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA secure_delete = ON")  # a name taken away leaves no trace in the file
        tighten(path)
        found = Ready(connection=connection)
        if version == version_2.VERSION:
            copy = free_name(path.with_name(f"{path.stem}.version-{version}{path.suffix}"))
            copy_to(connection, copy)
            unread = bring_up_to_date(connection)
            with suppress(sqlite3.Error):
                connection.execute("VACUUM")  # what is new needs half the room
            found = Ready(connection=connection, unread=unread, copy=copy if unread else None)
        elif not tables:
            with one_transaction(connection):
                if not connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                    make(connection)
        if tables_of(connection) != expected_tables():
            raise damaged(path)
    except UnicodeDecodeError as err:
        raise damaged(path) from err  # what is damaged is shown in the library's own complaint
    except sqlite3.DatabaseError as err:
        # A bit that flips in the text of a table makes a statement of ours wrong, or the text unreadable.
        if _code(err) == sqlite3.SQLITE_ERROR:
            raise damaged(path) from err
        raise
    return found


def look_at(path: Path) -> None:
    """Look at a file as plain bytes, so that one that is refused stays as it is to the last bit.

    Raises:
        DamagedRecords: it is no database at all.
        StoreProblem: another program's file, one of a newer version, or it cannot be read.
    """
    try:
        # Without O_NONBLOCK a pipe in the file's place would be waited for.
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(descriptor, "rb") as file:
            if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                raise OSError(errno.EINVAL, "it is no plain file")
            header = file.read(HEADER_BYTES)
    except FileNotFoundError:
        return
    except OSError as err:
        raise _of_the_system(path, err) from err
    if not header:
        return
    if len(header) < HEADER_BYTES or not header.startswith(MAGIC):
        raise damaged(path)
    application = int.from_bytes(header[APPLICATION_AT : APPLICATION_AT + 4])
    version = int.from_bytes(header[VERSION_AT : VERSION_AT + 4])
    # Both are nought while the first tables stand only in the write-ahead log.
    if application not in (0, OUR_FILE) or (application == OUR_FILE and version > LARGEST_VERSION):
        raise damaged(path) if holds_takes(path) else _not_ours(path)
    if application == OUR_FILE and version > VERSION:
        raise _newer(path, version)


def copy_to(connection: sqlite3.Connection, path: Path) -> None:
    """Copy the whole file as it is at this moment, also while others write."""
    own_file(path)
    with closing(sqlite3.connect(path)) as copy:
        connection.backup(copy)


@contextmanager
def speaking(path: Path) -> Iterator[None]:
    """Turn what the library finds wrong with the file, the disk or the folder into a sentence."""
    try:
        yield
    except sqlite3.DatabaseError as err:
        if _code(err) in _DAMAGED or (_code(err) == 0 and isinstance(err, sqlite3.OperationalError)):
            raise damaged(path) from err  # without a code it is text that is no UTF-8
        words = _SPEAKABLE.get(sqlite3.SQLITE_FULL if _is_full(path, err) else _code(err))
        if words is None:
            raise  # a fault of ours, such as a wrong statement
        problem, remedy = words
        raise StoreProblem(problem.format(path=path), remedy) from err
    except UnicodeDecodeError as err:
        raise damaged(path) from err
    except OSError as err:
        if isinstance(err, TrainerError):
            raise
        raise _of_the_system(path, err) from err


def _is_full(path: Path, err: sqlite3.Error) -> bool:
    """Return whether an error of the disk comes from a full one: the library cannot always tell."""
    if _code(err) != sqlite3.SQLITE_IOERR:
        return False
    try:
        return shutil.disk_usage(path.parent).free < LEAST_ROOM_BYTES
    except OSError:
        return False


def damaged(path: Path) -> DamagedRecords:
    """Return the complaint about damaged records."""
    return DamagedRecords(f"the records in {path} are damaged", MEND)


def free_name(path: Path) -> Path:
    """Return a name that no file has: the one given, or with a number before its ending."""
    found, n = path, 1
    while found.exists():
        n += 1
        found = path.with_name(f"{path.stem}-{n}{path.suffix}")
    return found


def _must_be_known(path: Path, version: int, tables: int) -> None:
    if version > VERSION:
        raise _newer(path, version)
    if tables and version < version_2.VERSION:
        raise StoreProblem(
            f"the records in {path} are of version {version}, which no Thumbfall that was given out has made",
            "move the file away, and new ones are begun",
        )


def _code(err: sqlite3.Error) -> int:
    # The lowest byte is the plain code; the rest says more exactly what.
    return (getattr(err, "sqlite_errorcode", None) or 0) & 0xFF


def _of_the_system(path: Path, err: OSError) -> StoreProblem:
    kind = _OF_THE_SYSTEM.get(err.errno or 0)
    if kind is None:
        problem, remedy = f"the records in {path} cannot be opened ({err.strerror})", _ELSEWHERE
    else:
        problem, remedy = _SPEAKABLE[kind]
    return StoreProblem(problem.format(path=path), remedy)


def _not_ours(path: Path) -> StoreProblem:
    return StoreProblem(f"{path} is a file of another program", "choose another folder for the records")


def _newer(path: Path, version: int) -> StoreProblem:
    return StoreProblem(
        f"the records in {path} were made by a newer Thumbfall (version {version}, this one knows {VERSION})",
        "bring Thumbfall up to date; until then nothing is kept and the file stays as it is",
    )
