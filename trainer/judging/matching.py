"""Give each tap to at most one stroke and each stroke at most one tap, in order, at the least total cost.

A nearest-slot rule fails the learner who rushes: a thumb that comes early by more than half a slot is
nearer to the skip than to its own stroke. So all taps and strokes are paired together. Every cost is a
share of one length, the unit: a slot of the tempo, at most half a second.

- a pair costs its distance in time, plus half a unit when the hand is known to be another, plus a quarter
  when the string is;
- a missed stroke costs half a unit and a stray tap half a unit, so a tap is taken for a stroke as long as
  it is less than one unit away (half a unit for the wrong hand, three quarters for the wrong string);
- a skip costs nothing when kept silent, so a tap counts as a touch of it when it is less than half a unit
  away and no stroke needs it more: where the hand isn't known, a lone tap in the first quarter of the gap
  is a touch, and one later is the next stroke played early;
- a left-hand sound that the input cannot hear costs nothing when no tap comes, and a tap there may be any
  hand's: some tap along with what they hear, and it is no stray.

Distances are compared in whole microseconds. The method is dynamic programming over taps and targets
in order (as for aligning sequences: Needleman & Wunsch 1970, from memory), kept to the taps within reach
of each target, so its cost is linear in the length of a take.
"""

from __future__ import annotations

import enum
from bisect import bisect_left, bisect_right
from collections.abc import Container, Sequence
from dataclasses import dataclass, field
from itertools import takewhile

from trainer.judging.take import Tap
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind

LONGEST_UNIT_US = 500_000
WRONG_HAND_SHARE = 0.5
WRONG_STRING_SHARE = 0.25
MISSED_SHARE = 0.5
STRAY_SHARE = 0.5
_NEVER = 1 << 62


class Move(enum.IntEnum):
    """How the best path reaches a state."""

    PAIR = 0
    MISS = 1
    STRAY = 2


_PAIR, _MISS, _STRAY = int(Move.PAIR), int(Move.MISS), int(Move.STRAY)  # as they stand in the rows


@dataclass(frozen=True, slots=True)
class Priced:
    """A target with its prices, in microseconds."""

    target: Target
    at_us: int
    unit_us: int
    miss_us: int
    wrong_hand_us: int
    wrong_string_us: int

    @property
    def stray_us(self) -> int:
        """What a stray tap costs near this target."""
        return int(self.unit_us * STRAY_SHARE)


@dataclass(frozen=True, slots=True)
class Touch:
    """A tap as the matching sees it."""

    at_us: int
    hand: Hand | None
    string: int | None


@dataclass(slots=True)
class CostRow:
    """Best costs after one target, by number of taps consumed.

    ``costs[k]`` belongs to ``first + k`` taps; ``kept`` is the least number of taps that a later target
    may still start from.
    """

    first: int
    kept: int
    costs: list[int]
    moves: bytearray = field(default_factory=bytearray)

    @property
    def last(self) -> int:
        """The greatest number of taps that the row covers."""
        return self.first + len(self.costs) - 1


def microseconds(seconds: float) -> int:
    """Return seconds as whole microseconds, the only unit in which windows are compared.

    >>> microseconds(0.0123456)
    12346
    """
    return round(seconds * 1e6)


def price(target: Target, *, knows_left: bool, marks_skips: bool = False) -> Priced | None:
    """Return a target with its prices, or None for a rest, which asks for nothing and forbids nothing.

    Args:
        knows_left: whether the input can hear the left hand; if not, its strokes may go without a tap.
        marks_skips: whether the hand's fall on a skip is to be heard on a side pad.
    """
    kind = target.stroke.kind
    if kind is Kind.REST:
        return None
    return priced_at(
        target,
        at_us=microseconds(target.song_s),
        unit_us=min(microseconds(target.slot_s), LONGEST_UNIT_US),
        knows_left=knows_left,
        marks_skips=marks_skips,
    )


def priced_at(
    target: Target, *, at_us: int, unit_us: int, knows_left: bool, marks_skips: bool = False
) -> Priced:
    """Return a target with its prices, wherever it lies; the rest is as for :func:`price`."""
    kind = target.stroke.kind
    unheard = is_unheard(kind, knows_left=knows_left)
    free = unheard or (kind is Kind.SKIP and not marks_skips)
    return Priced(
        target=target,
        at_us=at_us,
        unit_us=unit_us,
        miss_us=0 if free else int(unit_us * MISSED_SHARE),
        wrong_hand_us=0 if unheard else int(unit_us * WRONG_HAND_SHARE),
        wrong_string_us=0 if unheard else int(unit_us * WRONG_STRING_SHARE),
    )


def is_unheard(kind: Kind, *, knows_left: bool) -> bool:
    """Return whether the input cannot hear a stroke, so that it is not asked and nothing is made of a tap."""
    return kind.hand is Hand.LEFT and not knows_left


def pair_cost(priced: Priced, touch: Touch) -> int:
    """Return what it costs to give a tap to a target, in microseconds."""
    stroke = priced.target.stroke
    cost = abs(touch.at_us - priced.at_us)
    # Only the nail can touch a skip: the thumb is away from the strings while the hand falls. The side pad,
    # which is no hand on the strings, is touched on skips alone.
    falls = stroke.kind is Kind.SKIP and touch.hand is not Hand.NONE
    hand = Hand.NAIL if falls else stroke.hand
    if touch.hand is not None and touch.hand is not hand:
        cost += priced.wrong_hand_us
    if touch.string is not None and stroke.strings and touch.string not in stroke.strings:
        cost += priced.wrong_string_us
    return cost


def next_row(before: CostRow, priced: Priced, touches: Sequence[Touch], times_us: Sequence[int]) -> CostRow:
    """Return the best costs after one more target.

    Args:
        before: the row of the target before.
        touches, times_us: all taps so far in order, and their times.
    """
    reach_from = bisect_left(times_us, priced.at_us - priced.unit_us)
    reach_to = bisect_right(times_us, priced.at_us + priced.unit_us)
    first, last_before = before.kept, before.last
    last = max(last_before, reach_to)
    stray, miss = priced.stray_us, priced.miss_us
    old = before.costs[first - before.first :]
    # Taps that came after the row before was made may be strays in front of this target.
    beyond = old[-1]
    old += [beyond + stray * n for n in range(1, last - last_before + 1)]
    costs: list[int] = []
    moves = bytearray()
    best = _NEVER
    for taken, cost in enumerate(old, first):
        best += stray
        move = _STRAY
        if cost + miss <= best:
            best, move = cost + miss, _MISS
        if reach_from < taken <= reach_to and first < taken:
            paired = old[taken - 1 - first] + pair_cost(priced, touches[taken - 1])
            if paired < best:
                best, move = paired, _PAIR
        costs.append(best)
        moves.append(move)
    return CostRow(first=first, kept=max(first, min(reach_from, last)), costs=costs, moves=moves)


def first_row() -> CostRow:
    """Return the row before the first target: nothing consumed, nothing owed."""
    return CostRow(first=0, kept=0, costs=[0])


def walk_back(rows: Sequence[CostRow], taken: int) -> list[int | None]:
    """Return, for each row, the tap that the best path gives its target, from a state of the last row.

    Args:
        rows: the rows of successive targets, without the row before the first.
        taken: taps consumed in the last row's state.
    """
    pairs: list[int | None] = [None] * len(rows)
    for at in range(len(rows) - 1, -1, -1):
        row = rows[at]
        while taken > row.last or row.moves[taken - row.first] == _STRAY:
            taken -= 1
        if row.moves[taken - row.first] == _PAIR:
            taken -= 1
            pairs[at] = taken
    return pairs


def agreed_pairs(rows: Sequence[CostRow], states: Sequence[int]) -> list[int | None]:
    """Return the taps of the first rows, as far as the best paths from all these states agree on them.

    Args:
        states: ascending, taps consumed in the last row; at least one.
    """
    found: list[set[int | None]] = []
    now = list(states)
    for row in reversed(rows):
        pairs: set[int | None] = set()
        came: set[int] = set()
        passed, below = -1, -1  # the state looked at before, and where its strays end
        for taken in now:
            at = taken
            while at != passed and (at > row.last or row.moves[at - row.first] == _STRAY):
                at -= 1
            at = below if at == passed else at
            passed, below = taken, at
            pair = at - 1 if row.moves[at - row.first] == _PAIR else None
            pairs.add(pair)
            came.add(at if pair is None else pair)
        found.append(pairs)
        now = sorted(came)
    agreed = takewhile(lambda pairs: len(pairs) == 1, reversed(found))
    return [pair for pairs in agreed for pair in pairs]


def best_end(row: CostRow, taps: int, stray_us: int) -> int:
    """Return the state of a row from which the rest of the taps, all stray, costs least."""
    counts = range(row.kept, row.last + 1)
    return min(counts, key=lambda taken: row.costs[taken - row.first] + (taps - taken) * stray_us)


def match(targets: Sequence[Priced], touches: Sequence[Touch]) -> list[int | None]:
    """Return for each target the index of its tap, or None.

    Args:
        targets, touches: each in order of time.
    """
    if not targets:
        return []
    times_us = [touch.at_us for touch in touches]
    rows: list[CostRow] = []
    row = first_row()
    for priced in targets:
        row = next_row(row, priced, touches, times_us)
        rows.append(row)
    return walk_back(rows, best_end(row, len(touches), targets[-1].stray_us))


def touch_of(tap: Tap) -> Touch:
    """Return a tap as the matching sees it."""
    return Touch(microseconds(tap.song_s), tap.hand, tap.string)


def strays_among(
    targets: Sequence[Priced], times_us: Sequence[int], used: Container[int], start: int, stop: int
) -> tuple[int, ...]:
    """Return which taps of ``start`` to ``stop`` are strays: not used, and played while strokes were asked.

    Taps well before the first stroke (tapping along with the count-in, or playing what leads in) or after the
    last one's reach are nobody's mistake.
    """
    if not targets:
        return tuple(at for at in range(start, stop) if at not in used)
    since = targets[0].at_us - targets[0].unit_us // 2
    until = targets[-1].at_us + targets[-1].unit_us
    return tuple(at for at in range(start, stop) if at not in used and since <= times_us[at] <= until)
