"""Ask the records what a picture of progress needs; each answer in some milliseconds after years of practice.

Only takes that count are asked for (no simulated hands, nothing that was not graded); minutes count whenever
a person played.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from trainer.practice.course import Rung
from trainer.practice.stored_take import pooled_spread_s
from trainer.records.take_text import exact_tempo

# SQLite would rather take the days in order, and then looks through all takes of a player for one pattern's.
_BY_PATTERN = "takes INDEXED BY takes_by_pattern"


class DayTempo(NamedTuple):
    """The fastest tempo held clean on a day (ordinal of the date)."""

    day: int
    bpm: Fraction


class DaySpread(NamedTuple):
    """The spread of a day (ordinal of the date) in seconds, pooled over rungs, and over how many taps."""

    day: int
    spread_s: float
    taps: int


class DayMinutes(NamedTuple):
    """Minutes played on a day (ordinal of the date)."""

    day: int
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternPlayed:
    """What a player has done with a pattern.

    Attributes:
        name: the pattern's name.  title: as it was last.
        takes: how many.
        last_day: ordinal of the date of the last one.
        fastest_clean: the fastest tempo ever held clean; None when none was.
    """

    name: str
    title: str
    takes: int
    last_day: int
    fastest_clean: Fraction | None


def clean_rungs(connection: sqlite3.Connection, player: str) -> tuple[Rung, ...]:
    """Return what the course asks of: one rung for each visit to a pattern and day, in order of time.

    It stands for the whole visit: the fastest tempo held clean, or, where none was, the fastest played.
    ``order`` counts the visits over all patterns: two rungs of one order had no other pattern between them.
    """
    names = dict(connection.execute("SELECT id, name FROM patterns").fetchall())
    rows = connection.execute(
        "SELECT pattern_id, day, fastest, top FROM takes"
        " WHERE player_id = (SELECT id FROM players WHERE name = ?) AND simulated = 0 ORDER BY begun",
        (player,),
    )
    found: list[Rung] = []
    for order, (name, visit) in enumerate(groupby(rows, key=lambda row: names[row[0]])):
        clean: dict[int, float] = {}
        played: dict[int, float] = {}
        for _, day, fastest, top in visit:
            played[day] = max(top, played.get(day, 0.0))
            if fastest is not None:
                clean[day] = max(fastest, clean.get(day, 0.0))
        for day, top in played.items():
            bpm = exact_tempo(clean.get(day, top))
            found.append(Rung(pattern=name, bpm=bpm, clean=day in clean, day=day, order=order))
    return tuple(found)


def fastest_clean_by_day(connection: sqlite3.Connection, player: str, pattern: str) -> tuple[DayTempo, ...]:
    """Return the fastest clean tempo of each day that had one, in order of days."""
    rows = connection.execute(
        f"SELECT day, max(fastest) FROM {_BY_PATTERN}"
        " WHERE player_id = (SELECT id FROM players WHERE name = ?)"
        " AND pattern_id IN (SELECT id FROM patterns WHERE name = ?)"
        # A take that does not count has no fastest tempo.
        " AND fastest IS NOT NULL GROUP BY day ORDER BY day",
        (player, pattern),
    )
    return tuple(DayTempo(day, exact_tempo(bpm)) for day, bpm in rows)


def spread_by_day(
    connection: sqlite3.Connection, player: str, pattern: str, bpm: Fraction, *, within: float
) -> tuple[DaySpread, ...]:
    """Return the spread of each day at a tempo, in order of days; days without one are left out.

    Args:
        within: how far off, as a share of ``bpm``, a rung still belongs to it.
    """
    rows = connection.execute(
        f"SELECT day, rungs.taps, rungs.spread_s FROM {_BY_PATTERN} JOIN rungs ON take_id = takes.id"
        " WHERE player_id = (SELECT id FROM players WHERE name = ?)"
        " AND pattern_id IN (SELECT id FROM patterns WHERE name = ?)"
        " AND simulated = 0 AND not_graded = '' AND rungs.spread_s IS NOT NULL"
        " AND bpm BETWEEN ? AND ? ORDER BY day",
        (player, pattern, float(bpm) * (1 - within), float(bpm) * (1 + within)),
    )
    found = []
    for day, group in groupby(rows, key=lambda row: row[0]):
        rungs = [(taps, spread) for _, taps, spread in group]
        spread_s = pooled_spread_s(rungs)
        if spread_s is not None:
            found.append(DaySpread(day, spread_s, sum(taps for taps, _ in rungs)))
    return tuple(found)


def minutes_by_day(connection: sqlite3.Connection, player: str, since_day: int) -> tuple[DayMinutes, ...]:
    """Return the minutes played on each day from one on, in order; days without any are left out."""
    rows = connection.execute(
        "SELECT day, sum(seconds_played) / 60 FROM takes"
        " WHERE player_id = (SELECT id FROM players WHERE name = ?) AND day >= ? AND simulated = 0"
        " GROUP BY day ORDER BY day",
        (player, since_day),
    )
    return tuple(DayMinutes(day, minutes) for day, minutes in rows)


def patterns_played(connection: sqlite3.Connection, player: str) -> tuple[PatternPlayed, ...]:
    """Return what a player has done with each pattern, the latest played first."""
    rows = connection.execute(
        "SELECT patterns.name, title, grouped.* FROM"
        " (SELECT pattern_id, count(*), max(day) AS last_day, max(fastest) FROM takes"
        " WHERE player_id = (SELECT id FROM players WHERE name = ?) AND simulated = 0"
        " GROUP BY pattern_id) AS grouped JOIN patterns ON patterns.id = pattern_id"
        " ORDER BY last_day, pattern_id",
        (player,),
    )
    # A pattern that was changed has several texts; they go together under its name, the latest title on it.
    found: dict[str, PatternPlayed] = {}
    for name, title, _id, takes, last_day, fastest in rows:
        before = found.get(name)
        clean = None if fastest is None else exact_tempo(fastest)
        if before is not None:
            clean = max((c for c in (clean, before.fastest_clean) if c is not None), default=None)
            takes, last_day = takes + before.takes, max(last_day, before.last_day)
        found[name] = PatternPlayed(
            name=name, title=title, takes=takes, last_day=last_day, fastest_clean=clean
        )
    return tuple(sorted(found.values(), key=lambda each: (-each.last_day, each.name)))
