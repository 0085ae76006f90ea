"""The tables of the records as they are made, and one transaction on them.

- A take stands whole in ``takes.body``, with a checksum; the other columns are what lists and pictures ask.
- The texts of patterns and the names of players stand in two places (a table and an index that holds all of
  it), so that one page of the file that is lost takes no more with it than the takes that lie on it.
- ``rungs`` holds what a picture asks of the tempi of a take.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import cache

from trainer.records import rows

VERSION = 3  # PRAGMA user_version; 2 was of Thumbfall 0.2.0
OUR_FILE = 0x74686D62  # PRAGMA application_id: "thmb"

_TABLES = f"""
CREATE TABLE players (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE patterns (
    id INTEGER PRIMARY KEY, hash TEXT NOT NULL, name TEXT NOT NULL, title TEXT NOT NULL, text TEXT NOT NULL
);
CREATE TABLE takes (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    player_id INTEGER NOT NULL REFERENCES players, pattern_id INTEGER NOT NULL REFERENCES patterns,
    sum INTEGER NOT NULL, {", ".join(f"{column.name} {column.kind}" for column in rows.COLUMNS)},
    body BLOB NOT NULL
);
CREATE TABLE rungs (
    take_id INTEGER NOT NULL REFERENCES takes ON DELETE CASCADE, number INTEGER NOT NULL, bpm REAL NOT NULL,
    taps INTEGER NOT NULL, spread_s REAL, PRIMARY KEY (take_id, number)
) WITHOUT ROWID;
CREATE UNIQUE INDEX patterns_again ON patterns (hash, name, title, text);
"""
# Each question that a picture of progress asks is answered from one of these alone, but for the rungs.
_INDEXES = """
CREATE UNIQUE INDEX takes_by_uid ON takes (uid, begun);
CREATE INDEX takes_by_time ON takes (begun);
CREATE INDEX takes_by_pattern ON takes (player_id, pattern_id, day, simulated, not_graded, fastest);
CREATE INDEX takes_by_day ON takes (player_id, day, simulated, seconds_played);
CREATE INDEX takes_in_order ON takes (player_id, begun, pattern_id, day, simulated, fastest, top);
"""


@contextmanager
def one_transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Let all that is written inside be kept together or not at all."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
        raise


def make(connection: sqlite3.Connection) -> None:
    """Make the tables, inside a transaction of the caller's."""
    _run(connection, _TABLES)
    _run(connection, _INDEXES)
    connection.execute(f"PRAGMA user_version = {VERSION}")
    connection.execute(f"PRAGMA application_id = {OUR_FILE}")


def tables_of(connection: sqlite3.Connection) -> frozenset[tuple[str, str, str]]:
    """Return the tables and indexes of a file, each in its own words."""
    found = connection.execute("SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall()
    return frozenset((kind, name, " ".join(sql.split())) for kind, name, sql in found)


@cache
def expected_tables() -> frozenset[tuple[str, str, str]]:
    """Return what :func:`tables_of` gives of whole records."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        make(fresh)
        return tables_of(fresh)


def _run(connection: sqlite3.Connection, statements: str) -> None:
    # Not executescript, which would first end the transaction.
    for statement in statements.split(";"):
        if statement.strip():
            connection.execute(statement)


def number(connection: sqlite3.Connection, pragma: str) -> int:
    """Return a number that the file holds about itself."""
    return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])
