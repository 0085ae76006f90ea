"""Read takes as version 0.2.0 kept them: a column for each field, the taps packed one after another.

Each tap has 14 bytes, little-endian: microseconds from beat 0 (8, signed), uncertainty in microseconds (4),
hand times eight plus string (1; hands 0 unknown, 1 nail, 2 thumb, 3 left; string 0 unknown, else 1 to 5),
velocity (1; 0 unknown). Nothing is written in this form any more.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any, TypeAlias

from trainer.errors import BadRecords
from trainer.music.pattern import Pattern
from trainer.practice.stored_take import StoredTake, judgement_of, rungs_of
from trainer.records.take_codec import take_of
from trainer.records.take_text import new_uid, read_uid, spans_of_words
from trainer.records.tap_codec import TAP_LISTS

Values: TypeAlias = "Sequence[Any]"  # of a row, as SQLite holds them

VERSION = 2
TAKE_COLUMNS = (
    "id", "player_id", "pattern_id", "begun", "day", "spans", "passes", "slots_asked", "swing", "layback",
    "pocket", "input_name", "sound", "delay_ms", "click_off", "knows_left", "simulated", "not_graded",
    "seconds_played", "asked", "clean", "mean_s", "spread_s", "uid", "fastest", "top",
)  # fmt: skip
_TAP = struct.Struct("<qIBB")
_HANDS = ("", "nail", "thumb", "left")
# What a column holds is the plain value of today under another name.
_SAME = {
    "begun": "begun", "passes": "passes", "slots_asked": "slots_asked", "swing": "swing",
    "lay_back": "layback",
    "pocket": "pocket", "input": "input_name", "sound": "sound", "delay_ms": "delay_ms",
    "not_graded": "not_graded", "seconds_played": "seconds_played", "asked": "asked", "clean": "clean",
    "mean_s": "mean_s", "spread_s": "spread_s",
}  # fmt: skip


def stored_take(row: Values, packed: bytes, player: str, pattern: Pattern) -> StoredTake:
    """Return the take of a row of ``TAKE_COLUMNS``; its rungs are judged again.

    Raises:
        TrainerError: a column holds what no take has.
    """
    if len(row) != len(TAKE_COLUMNS):
        raise BadRecords("a take is damaged", "restore the records from a backup")
    old = dict(zip(TAKE_COLUMNS, row, strict=True))
    taps = _taps(packed)
    try:
        day = date.fromordinal(int(old["day"])).isoformat()
    except (ValueError, OverflowError, TypeError):
        raise BadRecords(f"found {old['day']} for the day of a take", "restore it from a backup") from None
    table = {
        **{name: old[column] for name, column in _SAME.items()},
        **{name: bool(old[name]) for name in ("click_off", "knows_left", "simulated")},
        "uid": _uid(str(old["uid"]), str(old["begun"]), pattern, taps),
        "day": day,
        "tempi": spans_of_words(str(old["spans"])),
        "taps": taps,
    }
    take = take_of(table, pattern, player=player, rungs=(), id=int(old["id"]))
    # They stand in another table, a page of which may be lost; the taps tell them just as well.
    return replace(take, rungs=rungs_of(judgement_of(take), take))


def _uid(uid: str, begun: str, pattern: Pattern, taps: object) -> str:
    try:
        return read_uid(uid)
    except BadRecords:  # version 0.2.0 took anything for one from a file
        return new_uid(begun, pattern.name, taps)


def _taps(packed: bytes) -> dict[str, list[Any]]:
    try:
        rows = [
            (at_us, _HANDS[code >> 3], code & 7, velocity, within_us)
            for at_us, within_us, code, velocity in _TAP.iter_unpack(packed)
        ]
    except (struct.error, LookupError):
        raise BadRecords("the taps of a take are damaged", "restore the records from a backup") from None
    return {name: [row[at] for row in rows] for at, name in enumerate(TAP_LISTS)}
