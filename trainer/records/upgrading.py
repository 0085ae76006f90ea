"""Bring a file of version 0.2.0 up to date, in one transaction: interrupted, the old file is as it was."""

from __future__ import annotations

import sqlite3

from trainer.errors import TrainerError
from trainer.music.pattern import Pattern
from trainer.records import rows, version_2
from trainer.records.tables import make, number, one_transaction
from trainer.records.take_codec import pattern_of


def bring_up_to_date(connection: sqlite3.Connection) -> int:
    """Bring the file of version 0.2.0 up to date; return how many of its takes could not be read.

    Raises:
        sqlite3.Error: the file is damaged; it is as it was.
    """
    connection.execute("PRAGMA foreign_keys = OFF")
    with one_transaction(connection):
        if number(connection, "user_version") != version_2.VERSION:
            return 0  # another window has just done it
        for name in ("players", "patterns", "takes", "taps", "rungs"):
            connection.execute(f"ALTER TABLE {name} RENAME TO old_{name}")
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL"
        ).fetchall():
            connection.execute(f'DROP INDEX "{name}"')
        make(connection)
        unread = _take_over(connection)
        for name in ("rungs", "taps", "takes", "patterns", "players"):
            connection.execute(f"DROP TABLE old_{name}")
    connection.execute("PRAGMA foreign_keys = ON")
    return unread


def _take_over(connection: sqlite3.Connection) -> int:
    patterns: dict[int, Pattern | None] = {}
    for pattern_id, name, text in connection.execute("SELECT id, name, text FROM old_patterns").fetchall():
        try:
            patterns[pattern_id] = pattern_of(name, text)
        except TrainerError:
            patterns[pattern_id] = None
    take_ids = [each for (each,) in connection.execute("SELECT id FROM old_takes ORDER BY id").fetchall()]
    columns = ", ".join(f"old_takes.{name}" for name in version_2.TAKE_COLUMNS)
    unread = 0
    for take_id in take_ids:
        *row, packed, player = connection.execute(
            f"SELECT {columns}, packed, old_players.name FROM old_takes"
            " LEFT JOIN old_taps ON take_id = old_takes.id"
            " LEFT JOIN old_players ON old_players.id = player_id WHERE old_takes.id = ?",
            (take_id,),
        ).fetchone()
        pattern = patterns.get(row[2])
        try:
            if pattern is None or packed is None or player is None:
                unread += 1
                continue
            rows.insert_take(connection, version_2.stored_take(row, packed, player, pattern), take_id)
        except TrainerError:
            unread += 1
    return unread
