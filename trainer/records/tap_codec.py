"""The plain values of taps and of stretches of a take; :mod:`trainer.records.take_codec` documents them."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.errors import BadRecords
from trainer.judging.matching import microseconds
from trainer.judging.spared import Span, joined
from trainer.judging.take import Tap
from trainer.music.strokes import ALL_STRINGS, Hand
from trainer.practice.json_values import Json
from trainer.records.plain_fields import Fields, is_whole
from trainer.records.take_text import shown

MOST_SPARED = 1000
MOST_TAPS = 1_000_000
LONGEST_US = 10**12  # from beat 0: eleven days
MOST_UNCERTAIN_US = 2**32 - 1
TAP_LISTS = ("at_us", "hand", "string", "velocity", "within_us")
_HANDS = {"": None} | {hand.value: hand for hand in Hand}


def taps_table(taps: Sequence[Tap]) -> dict[str, Json]:
    """Return taps as five lists of one length."""
    rows = [tap_values(tap) for tap in taps]
    return {name: [row[at] for row in rows] for at, name in enumerate(TAP_LISTS)}


def spans_table(spans: Sequence[Span]) -> list[list[int]]:
    """Return stretches of a take as their first and last microsecond."""
    return [[microseconds(from_s), microseconds(to_s)] for from_s, to_s in spans]


def spans_of(table: object) -> tuple[Span, ...]:
    """Return the stretches of such a table.

    Raises:
        BadRecords: they are none, are not in order, or are too many.
    """
    found: list[Span] = []
    for each in table if isinstance(table, list) and len(table) <= MOST_SPARED else [None]:
        match each:
            case [int(from_us), int(to_us)] if -LONGEST_US <= from_us <= to_us <= LONGEST_US:
                found.append((from_us / 1e6, to_us / 1e6))
            case _:
                raise BadRecords(f"found {shown(each)} for spared", "write its first and last microsecond")
    if joined(found) != tuple(found):
        raise BadRecords(f"found {shown(table)} for spared", "write stretches in order that do not meet")
    return tuple(found)


def tap_values(tap: Tap) -> tuple[int, str, int, int, int]:
    """Return a tap as its five plain values."""
    hand = tap.hand.value if tap.hand is not None else ""
    return (
        microseconds(tap.song_s),
        hand,
        tap.string or 0,
        tap.velocity or 0,
        min(microseconds(tap.uncertainty_s), MOST_UNCERTAIN_US),
    )


def taps_of(table: object) -> tuple[Tap, ...]:
    """Return the taps of five lists.

    Raises:
        BadRecords: a list is missing or of another length, or a value is one that no tap has.
    """
    f = Fields(table)
    lists = [f.rows(name) for name in TAP_LISTS]
    if len({len(each) for each in lists}) > 1 or len(lists[0]) > MOST_TAPS:
        f.fail("at_us", f"make the five lists of the taps equally long, at most {MOST_TAPS}")
    return tuple(tap_of(values) for values in zip(*lists, strict=True))


def tap_of(values: Sequence[object]) -> Tap:
    """Return the tap of its five values.

    Raises:
        BadRecords: not five, or a value is one that no tap has.
    """
    if len(values) == 5:
        at_us, hand, string, velocity, within_us = values
        if (
            isinstance(hand, str)
            and hand in _HANDS
            and is_whole(at_us)
            and abs(at_us) <= LONGEST_US
            and is_whole(string)
            and string in (0, *ALL_STRINGS)
            and is_whole(velocity)
            and 0 <= velocity <= 127
            and is_whole(within_us)
            and 0 <= within_us <= MOST_UNCERTAIN_US
        ):
            return Tap(
                song_s=at_us / 1e6,
                hand=_HANDS[hand],
                string=string or None,
                velocity=velocity or None,
                uncertainty_s=within_us / 1e6,
            )
    raise BadRecords(
        f"found {shown(list(values))} for a tap",
        "write microseconds, a hand or nothing, a string to 5, a velocity to 127, microseconds",
    )
