"""Look a file of records over, and save what can still be read of a damaged one."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import TrainerError
from trainer.practice.stored_take import StoredTake
from trainer.records.schema import set_aside
from trainer.records.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """What became of a damaged file.

    Attributes:
        saved, lost: takes that could and could not be read.
        aside: where the damaged file is kept.
    """

    saved: int
    lost: int
    aside: Path


def faults(path: Path) -> tuple[str, ...]:
    """Return what is damaged in a file of records, in SQLite's words; empty when all is well."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            found = connection.execute("PRAGMA integrity_check").fetchall()
    except sqlite3.DatabaseError as err:
        return (str(err),)
    return tuple(text for (text,) in found if text != "ok")


def mend(path: Path) -> Mended:
    """Put a damaged file aside, begin a new one, and keep there every take that can still be read.

    Raises:
        StoreProblem: the folder cannot be written, or the file cannot even be opened; then
            :meth:`Store.open` puts it aside by itself.
    """
    damaged = Store.open(path)
    readable: list[StoredTake] = []
    lost = 0
    try:
        for take_id in _numbers(path):
            try:
                readable.append(damaged.take(take_id))
            except TrainerError:
                lost += 1
    finally:
        damaged.close()
    aside = set_aside(path)
    fresh = Store.open(path)
    try:
        fresh.keep_all(readable)
    finally:
        fresh.close()
    return Mended(saved=len(readable), lost=lost, aside=aside)


def _numbers(path: Path) -> tuple[int, ...]:
    """Return the numbers of all takes that one of the tables still knows of."""
    found: set[int] = set()
    with closing(sqlite3.connect(path)) as connection:
        # The same number stands in each of these; a damaged page rarely hits all of them.
        for column in (
            "id FROM takes NOT INDEXED",
            "take_id FROM taps",
            "id FROM takes INDEXED BY takes_by_uid",
        ):
            try:
                for (number,) in connection.execute(f"SELECT {column}"):
                    found.add(number)
            except sqlite3.DatabaseError:
                continue  # what was read so far is a help all the same
    return tuple(sorted(found))
