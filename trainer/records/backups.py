"""Copy the records into another file, and never over the only good copy.

A file that is no copy of records is left alone. An older copy of the same name is named
``copy.older-1.sqlite`` (the latest is always the one named), until there are ``MOST_OLDER`` of them; then the
oldest goes.
"""

from __future__ import annotations

import secrets
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from trainer.errors import BadSettings, DamagedRecords
from trainer.records.rows import sum_of
from trainer.records.schema import APPLICATION_AT, HEADER_BYTES, MAGIC, MEND, copy_to
from trainer.records.tables import OUR_FILE

MOST_OLDER = 3


def back_up(connection: sqlite3.Connection, path: Path) -> Path | None:
    """Copy all records into a file; return where an older copy of that name is now, None when there was none.

    Raises:
        BadSettings: there is a file of that name that is no copy of records.
        DamagedRecords: the records are damaged; nothing is copied.
        sqlite3.Error, OSError: it cannot be written; what was there is there still.
    """
    there = path.exists()
    if there and not _is_copy(path):
        raise BadSettings(f"{path} is there already and is no copy of records", "name another file")
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(8)}.new")
    try:
        copy_to(connection, fresh)
        with closing(sqlite3.connect(fresh)) as copy:
            if not _is_whole(copy):
                raise DamagedRecords("the records are damaged", MEND)  # a copy of that is no backup
        if not there:
            fresh.replace(path)
            return None
        older = _numbered(path, 1)
        if _takes_in(path):
            for number in range(MOST_OLDER - 1, 0, -1):
                if _numbered(path, number).exists():
                    _numbered(path, number).replace(_numbered(path, number + 1))
            path.replace(older)
            fresh.replace(path)
            return older
        fresh.replace(path)
        return None
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)


def _is_whole(connection: sqlite3.Connection) -> bool:
    """Return whether SQLite finds nothing damaged, and every take has its checksum."""
    if connection.execute("PRAGMA quick_check(1)").fetchone() != ("ok",):
        return False
    takes = connection.execute("SELECT player_id, pattern_id, body, sum FROM takes")
    return all(checksum == sum_of(*row) for *row, checksum in takes)


def _numbered(path: Path, number: int) -> Path:
    return path.with_name(f"{path.stem}.older-{number}{path.suffix}")


def _is_copy(path: Path) -> bool:
    with path.open("rb") as file:
        header = file.read(HEADER_BYTES)
    return (
        header.startswith(MAGIC) and int.from_bytes(header[APPLICATION_AT : APPLICATION_AT + 4]) == OUR_FILE
    )


def _takes_in(path: Path) -> bool:
    """Return whether a copy may hold takes: one of which that cannot be said counts as holding some."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as copy:
            return bool(copy.execute("SELECT count(*) FROM takes").fetchone()[0])
    except sqlite3.Error:
        return True
