"""Write takes into the tables of the records, inside a transaction of the caller's, and read them out.

A take stands whole, packed, in ``body``; the other columns are what lists and pictures ask, worked out from
it when it is written (``COLUMNS``), and can be worked out again. ``sum`` is a checksum over the body and over
who played what, so that a bit that flips on the disk is found out.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, TypeAlias

from trainer.errors import DamagedRecords
from trainer.music.notation import write_pattern
from trainer.music.pattern import Pattern
from trainer.practice.stored_take import RungPlayed, StoredTake
from trainer.records.take_codec import pack, unpack
from trainer.records.take_text import clean_name, clean_words, exact_tempo, new_uid, text_hash
from trainer.records.tap_codec import taps_table

SqlRow: TypeAlias = "tuple[Any, ...]"  # as the library gives it; each column has one type


@dataclass(frozen=True, slots=True)
class Column:
    """What a list or a picture asks of a take.

    Attributes:
        name, kind: of the column, in SQL.
        value: works it out.
    """

    name: str
    kind: str
    value: Callable[[StoredTake], object]


COLUMNS = (
    Column("uid", "TEXT NOT NULL", lambda take: take.uid),
    Column("begun", "TEXT NOT NULL", lambda take: take.begun),
    Column("day", "INTEGER NOT NULL", lambda take: take.day),
    Column("first_bpm", "REAL NOT NULL", lambda take: float(take.timeline.spans[0].bpm)),
    Column("last_bpm", "REAL NOT NULL", lambda take: float(take.timeline.spans[-1].bpm)),
    Column("passes", "INTEGER NOT NULL", lambda take: take.passes),
    Column("asked", "INTEGER NOT NULL", lambda take: take.asked),
    Column("clean", "INTEGER NOT NULL", lambda take: take.clean),
    Column("mean_s", "REAL", lambda take: take.mean_s),
    Column("spread_s", "REAL", lambda take: take.spread_s),
    Column("seconds_played", "REAL NOT NULL", lambda take: take.seconds_played),
    Column("input_name", "TEXT NOT NULL", lambda take: clean_words(take.input_name)),
    Column("simulated", "INTEGER NOT NULL", lambda take: int(take.simulated)),
    Column("not_graded", "TEXT NOT NULL", lambda take: clean_words(take.why_not)),
    Column("fastest", "REAL", lambda take: _maybe_float(take.fastest_clean)),
    Column("top", "REAL NOT NULL", lambda take: float(take.fastest_played)),
)
NAMES = tuple(column.name for column in COLUMNS)
BEFORE_BODY = ("player_id", "pattern_id", "sum")
NAMED_TAKES = (
    "takes JOIN players ON players.id = player_id JOIN patterns ON patterns.id = pattern_id"  # both by name
)
_LISTED = (
    "takes.id", "uid", "players.name", "begun", "day", "patterns.name", "title", "first_bpm", "last_bpm",
    "passes", "asked", "clean", "mean_s", "spread_s", "seconds_played", "input_name", "simulated",
    "not_graded", "fastest",
)  # fmt: skip
LISTED_COLUMNS = ", ".join(_LISTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeRow:
    """A take without its taps, for a list.

    Attributes:
        pattern, title: the pattern's name and title as they were.
        first_bpm, last_bpm: the tempo at the start and at the end.
        fastest_clean: the fastest tempo held clean; None when none was or the take does not count.
        The others are those of :class:`~trainer.practice.stored_take.StoredTake`.
    """

    id: int
    uid: str
    player: str
    begun: str
    day: int
    pattern: str
    title: str
    first_bpm: Fraction
    last_bpm: Fraction
    passes: int
    asked: int
    clean: int
    mean_s: float | None
    spread_s: float | None
    seconds_played: float
    input_name: str
    simulated: bool
    not_graded: str
    fastest_clean: Fraction | None


def insert_take(
    connection: sqlite3.Connection, take: StoredTake, take_id: int | None = None
) -> tuple[int, bool]:
    """Write a take; return its number and whether it is new. One of the same uid is left as it is.

    Args:
        take_id: the number to give it if nobody has it; None for the next one.

    Raises:
        TrainerError: it holds what no take has.
    """
    uid = take.uid or new_uid(take.begun, take.pattern.name, taps_table(take.taps))
    take = replace(take, uid=uid)
    there = connection.execute("SELECT id FROM takes WHERE uid = ?", (uid,)).fetchone()
    if there is not None:
        return int(there[0]), False
    if take_id is not None and connection.execute("SELECT 1 FROM takes WHERE id = ?", (take_id,)).fetchone():
        take_id = None
    who, what = player_id(connection, clean_name(take.player)), _pattern_id(connection, take.pattern)
    body = pack(take)
    unpack(body, "", take.pattern)  # what could not be read again is refused now
    names = ("id", *BEFORE_BODY, *NAMES, "body")
    values = (take_id, who, what, sum_of(who, what, body), *(column.value(take) for column in COLUMNS), body)
    done = connection.execute(
        f"INSERT INTO takes ({', '.join(names)}) VALUES ({_question_marks(len(names))})", values
    )
    new_id = done.lastrowid
    assert new_id is not None
    _insert_rungs(connection, new_id, take.rungs)
    return new_id, True


def sum_of(player_id: int, pattern_id: int, body: bytes) -> int:
    """Return the checksum of a row: CRC-32 over its player, its pattern and its body."""
    return zlib.crc32(body, zlib.crc32(f"{player_id} {pattern_id}".encode()))


def give_to(connection: sqlite3.Connection, take_id: int, player_id: int) -> None:
    """Let a take be another player's."""
    row = connection.execute("SELECT pattern_id, body FROM takes WHERE id = ?", (take_id,)).fetchone()
    connection.execute(
        "UPDATE takes SET player_id = ?, sum = ? WHERE id = ?", (player_id, sum_of(player_id, *row), take_id)
    )


def mark_take(connection: sqlite3.Connection, take: StoredTake) -> None:
    """Write a take that is kept already, with another mark on it; its taps and its rungs stay."""
    who, what = connection.execute(
        "SELECT player_id, pattern_id FROM takes WHERE id = ?", (take.id,)
    ).fetchone()
    body = pack(take)
    values = (sum_of(who, what, body), *(column.value(take) for column in COLUMNS), body, take.id)
    changed = ", ".join(f"{name} = ?" for name in ("sum", *NAMES, "body"))
    connection.execute(f"UPDATE takes SET {changed} WHERE id = ?", values)


def player_id(connection: sqlite3.Connection, name: str) -> int:
    """Return the number of a player, who is written down when new."""
    connection.execute("INSERT OR IGNORE INTO players (name) VALUES (?)", (name,))
    return int(connection.execute("SELECT id FROM players WHERE name = ?", (name,)).fetchone()[0])


def select_take(connection: sqlite3.Connection, take_id: int) -> SqlRow | None:
    """Return the row of a take for :func:`stored_take`, None where there is no such number."""
    row: SqlRow | None = connection.execute(
        "SELECT takes.id, player_id, pattern_id, sum, body, players.name FROM takes"
        " LEFT JOIN players ON players.id = player_id WHERE takes.id = ?",
        (take_id,),
    ).fetchone()
    return row


def stored_take(row: SqlRow, pattern: Callable[[int], Pattern]) -> StoredTake:
    """Return the take of a row of :func:`select_take`.

    Args:
        pattern: gives a pattern by its number.

    Raises:
        DamagedRecords: its checksum is wrong; nothing of it can be believed.
        TrainerError: it holds what no take has.
    """
    take_id, who, what, checksum, body, player = row
    if not isinstance(body, bytes) or player is None or checksum != sum_of(who, what, body):
        raise DamagedRecords(
            f"take {take_id} is damaged",
            "save what can be read of the records with: thumbfall records --check",
        )
    return replace(unpack(body, player, pattern(what)), id=take_id)


def columns_differ(connection: sqlite3.Connection, take: StoredTake) -> bool:
    """Return whether what lists and pictures ask is not what the take itself says."""
    row = connection.execute(f"SELECT {', '.join(NAMES)} FROM takes WHERE id = ?", (take.id,)).fetchone()
    rungs = connection.execute(
        "SELECT bpm, taps, spread_s FROM rungs WHERE take_id = ? ORDER BY number", (take.id,)
    ).fetchall()
    return row != tuple(column.value(take) for column in COLUMNS) or rungs != [_rung(r) for r in take.rungs]


def take_row(row: SqlRow) -> TakeRow:
    """Return the entry of a row of ``LISTED_COLUMNS``."""
    take_id, uid, player, begun, day, pattern, title, first, last, passes, asked, clean, mean_s, *rest = row
    spread_s, seconds_played, input_name, simulated, not_graded, fastest = rest
    return TakeRow(
        id=take_id,
        uid=uid,
        player=player,
        begun=begun,
        day=day,
        pattern=pattern,
        title=title,
        first_bpm=exact_tempo(first),
        last_bpm=exact_tempo(last),
        passes=passes,
        asked=asked,
        clean=clean,
        mean_s=mean_s,
        spread_s=spread_s,
        seconds_played=seconds_played,
        input_name=input_name,
        simulated=bool(simulated),
        not_graded=not_graded,
        fastest_clean=None if fastest is None else exact_tempo(fastest),
    )


def _insert_rungs(connection: sqlite3.Connection, take_id: int, rungs: tuple[RungPlayed, ...]) -> None:
    connection.executemany(
        "INSERT INTO rungs (take_id, number, bpm, taps, spread_s) VALUES (?, ?, ?, ?, ?)",
        [(take_id, number, *_rung(rung)) for number, rung in enumerate(rungs)],
    )


def _rung(rung: RungPlayed) -> tuple[float, int, float | None]:
    return (float(rung.bpm), rung.taps, rung.spread_s)


def _pattern_id(connection: sqlite3.Connection, pattern: Pattern) -> int:
    text = write_pattern(pattern)
    name, title = clean_words(pattern.name), clean_words(pattern.title)
    known = text_hash(name, text)
    there = connection.execute("SELECT id FROM patterns WHERE hash = ?", (known,)).fetchone()
    if there is not None:
        return int(there[0])
    done = connection.execute(
        "INSERT INTO patterns (hash, name, title, text) VALUES (?, ?, ?, ?)", (known, name, title, text)
    )
    assert done.lastrowid is not None
    return done.lastrowid


def _maybe_float(value: Fraction | None) -> float | None:
    return None if value is None else float(value)


def _question_marks(n: int) -> str:
    return ", ".join("?" * n)
