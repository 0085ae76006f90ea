"""Write takes into the tables of the records, inside a transaction of the caller's, and read them out."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, TypeAlias

from trainer.judging.pocket import Pocket
from trainer.music.notation import write_pattern
from trainer.music.pattern import Pattern
from trainer.practice.stored_take import RungPlayed, StoredTake
from trainer.records.packing import (
    as_text,
    clean_name,
    exact_tempo,
    pack_taps,
    read_feel,
    read_fraction,
    read_spans,
    text_hash,
    uid_of,
    unpack_taps,
    utc_moment,
    write_layback,
    write_spans,
)

Row: TypeAlias = "tuple[Any, ...]"  # as the library gives it; each column has one type

TAKE_COLUMNS = (
    "player_id", "pattern_id", "begun", "day", "spans", "passes", "slots_asked", "swing", "layback", "pocket",
    "input_name", "sound", "delay_ms", "click_off", "knows_left", "simulated", "not_graded", "seconds_played",
    "asked", "clean", "mean_s", "spread_s", "uid", "fastest", "top",
)  # fmt: skip
RUNG_COLUMNS = (
    "take_id", "number", "bpm_value", "bpm", "passes", "clean_passes", "clean_in_a_row", "held", "asked",
    "clean", "taps", "mean_s", "spread_s",
)  # fmt: skip
LISTED_COLUMNS = (
    "takes.id, uid, players.name, begun, day, patterns.name, title, spans, passes, asked, clean, mean_s,"
    " spread_s, seconds_played, input_name, simulated, not_graded, fastest"
)
NAMED_TAKES = (
    "takes JOIN players ON players.id = player_id JOIN patterns ON patterns.id = pattern_id"  # both by name
)


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
        take_id: the number to give it; None for the next one.

    Raises:
        BadRecords: its time is no time.
    """
    utc_moment(take.begun)
    uid = take.uid or uid_of(take)
    there = connection.execute("SELECT id FROM takes WHERE uid = ?", (uid,)).fetchone()
    if there is not None:
        return int(there[0]), False
    values = (
        player_id(connection, clean_name(take.player)), _pattern_id(connection, take.pattern), take.begun,
        take.day, write_spans(take.timeline), take.passes, take.slots_asked, str(take.feel.swing),
        write_layback(take.feel), take.pocket.value, as_text(take.input_name), as_text(take.sound),
        take.delay_ms, take.click_off, take.knows_left, take.simulated, as_text(take.not_graded),
        take.seconds_played, take.asked, take.clean, take.mean_s, take.spread_s, uid, fastest_of(take),
        float(take.fastest_played),
    )  # fmt: skip
    columns = ", ".join(("id", *TAKE_COLUMNS))
    done = connection.execute(
        f"INSERT INTO takes ({columns}) VALUES ({_places(len(TAKE_COLUMNS) + 1)})", (take_id, *values)
    )
    new_id = done.lastrowid
    assert new_id is not None
    connection.execute("INSERT INTO taps VALUES (?, ?)", (new_id, pack_taps(take.taps)))
    insert_rungs(connection, new_id, take.rungs)
    return new_id, True


def insert_rungs(connection: sqlite3.Connection, take_id: int, rungs: Iterable[RungPlayed]) -> None:
    """Write the rungs of a take."""
    connection.executemany(
        f"INSERT INTO rungs ({', '.join(RUNG_COLUMNS)}) VALUES ({_places(len(RUNG_COLUMNS))})",
        [
            (
                take_id, number, float(r.bpm), str(r.bpm), r.passes, r.clean_passes, r.clean_in_a_row,
                r.held, r.asked, r.clean, r.taps, r.mean_s, r.spread_s,
            )
            for number, r in enumerate(rungs)
        ],
    )  # fmt: skip


def fastest_of(take: StoredTake) -> float | None:
    """Return the fastest clean tempo of a take as its column holds it."""
    return None if take.fastest_clean is None else float(take.fastest_clean)


def player_id(connection: sqlite3.Connection, name: str) -> int:
    """Return the number of a player, who is written down when new."""
    connection.execute("INSERT OR IGNORE INTO players (name) VALUES (?)", (name,))
    return int(connection.execute("SELECT id FROM players WHERE name = ?", (name,)).fetchone()[0])


def select_take(connection: sqlite3.Connection, take_id: int) -> Row | None:
    """Return the row of a take for :func:`stored_take`, None where there is no such number."""
    row: Row | None = connection.execute(
        f"SELECT takes.id, players.name, {', '.join(TAKE_COLUMNS[1:])}, packed FROM takes"
        " JOIN players ON players.id = player_id LEFT JOIN taps ON take_id = takes.id WHERE takes.id = ?",
        (take_id,),
    ).fetchone()
    return row


def select_rungs(connection: sqlite3.Connection, take_id: int) -> tuple[RungPlayed, ...]:
    """Return the rungs of a take, in the order played."""
    rows = connection.execute(
        f"SELECT {', '.join(RUNG_COLUMNS[3:])} FROM rungs WHERE take_id = ? ORDER BY number", (take_id,)
    )
    return tuple(
        RungPlayed(
            bpm=read_fraction(bpm),
            passes=passes,
            clean_passes=clean_passes,
            clean_in_a_row=in_a_row,
            held=bool(held),
            asked=asked,
            clean=clean,
            taps=taps,
            mean_s=mean_s,
            spread_s=spread_s,
        )
        for bpm, passes, clean_passes, in_a_row, held, asked, clean, taps, mean_s, spread_s in rows
    )


def pattern_number(row: Row) -> int:
    """Return the number of the pattern's text of a row of :func:`select_take`."""
    return int(row[2])


def stored_take(row: Row, rungs: tuple[RungPlayed, ...], pattern: Pattern) -> StoredTake:
    """Return the take of a row of :func:`select_take`.

    Raises:
        TrainerError: a column holds what no take has.
    """
    (
        take_id, player, _pattern_id, begun, day, spans, passes, slots_asked, swing, layback, pocket,
        input_name, sound, delay_ms, click_off, knows_left, simulated, not_graded, seconds_played, asked,
        clean, mean_s, spread_s, uid, _fastest, _top, packed,
    ) = row  # fmt: skip
    return StoredTake(
        id=take_id,
        uid=uid,
        player=player,
        begun=begun,
        day=day,
        pattern=pattern,
        timeline=read_spans(spans),
        passes=passes,
        slots_asked=slots_asked,
        feel=read_feel(swing, layback),
        pocket=Pocket.named(pocket),
        input_name=input_name,
        sound=sound,
        delay_ms=delay_ms,
        click_off=bool(click_off),
        knows_left=bool(knows_left),
        simulated=bool(simulated),
        not_graded=not_graded,
        seconds_played=seconds_played,
        taps=unpack_taps(packed or b""),
        rungs=rungs,
        asked=asked,
        clean=clean,
        mean_s=mean_s,
        spread_s=spread_s,
    )


def take_row(row: Row) -> TakeRow:
    """Return the entry of a row of ``LISTED_COLUMNS``."""
    take_id, uid, player, begun, day, pattern, title, spans, passes, asked, clean, mean_s, *rest = row
    spread_s, seconds_played, input_name, simulated, not_graded, fastest = rest
    tempi = [span.rsplit(" ", 1)[1] for span in spans.split(";")]
    return TakeRow(
        id=take_id,
        uid=uid,
        player=player,
        begun=begun,
        day=day,
        pattern=pattern,
        title=title,
        first_bpm=read_fraction(tempi[0]),
        last_bpm=read_fraction(tempi[-1]),
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


def _pattern_id(connection: sqlite3.Connection, pattern: Pattern) -> int:
    text = write_pattern(pattern)
    known = text_hash(pattern.name, text)
    connection.execute(
        "INSERT OR IGNORE INTO patterns (hash, name, title, text) VALUES (?, ?, ?, ?)",
        (known, pattern.name, pattern.title, text),
    )
    return int(connection.execute("SELECT id FROM patterns WHERE hash = ?", (known,)).fetchone()[0])


def _places(n: int) -> str:
    return ", ".join("?" * n)
