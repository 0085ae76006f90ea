"""Draw the down-picking hand as a smooth line: where the hand is at each beat, over the five strings.

Heights count in string spacings from string 1 at 0 up to string 5 at 4; above that is air. String 5 is
on top because it lies nearest the player's face and the hand falls past it towards string 1, the
string nearest the floor: down on the screen is down in the room.

The hand falls to every down slot and rises through every up slot, whatever is played:

- a strike's trough lies on its string, at the beat; a brush crosses its strings at the beat and turns
  below the last; a skip's trough comes down in time and turns in the air above string 5;
- through an up slot the hand rises and turns a little later. The thumb is a branch of the line: it leaves
  its string at the beat and joins the rising hand. So the nail is always a trough and the thumb always
  a branch, and a drop-thumb can follow a skip without the hand touching anything between. Before that beat
  the thumb is on its way: it sets out while the hand falls or rises, and lies on its string until it leaves
  it (common practice, no source).

The line is made of cubic pieces (Hermite form), monotone between turns: slopes are kept within three
times the chord on either side (Fritsch & Carlson 1980, from memory), so no piece swings past its ends.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.music.strokes import Kind, Motion, Stroke

STRING_5 = 4.0
CREST = 7.0  # where the hand turns after an up slot
SKIP_TURN = 5.0  # a whole spacing above string 5
IDLE_TURN = 5.9  # a down slot on which nothing is asked
BETWEEN_DOWNS = 6.4  # the rise between two down slots in a row
BRUSH_BELOW = 0.75  # how far under its last string a brush turns
CREST_AFTER = 0.34  # share of the way to the next slot
BRANCH = 0.27  # how long a thumb's branch is, as a share of the way to the next slot
BRUSH_AFTER = 0.18
USUAL_GAP = 0.5
SETS_OUT = 0.85  # how long before its beat a thumb begins to reach for its string, as a share of a slot
LIES = 0.3  # and how long it then lies on it


@dataclass(frozen=True, slots=True)
class Slot:
    """One slot as the path sees it; ``beat`` is where it sounds, swing and lay-back included.

    ``frets`` belong to ``strings`` one by one; empty where none are to be written. ``came_from`` is the fret
    that the string of a left-hand stroke had before; ``asked`` whether the player is to tap it; the rest is
    as in the stroke.
    """

    beat: float
    motion: Motion
    kind: Kind
    strings: tuple[int, ...] = ()
    accented: bool = False
    frets: tuple[int, ...] = ()
    came_from: int | None = None
    muted: bool = False
    slid_from: int | None = None
    triplet: tuple[int, ...] = ()
    asked: bool = True

    @classmethod
    def of(
        cls,
        stroke: Stroke,
        motion: Motion,
        beat: float,
        *,
        came_from: int | None = None,
        zeros: bool = False,
        asked: bool = True,
    ) -> Slot:
        """Return the slot of a stroke that sounds at a beat.

        Args:
            came_from: the fret that the string of a left-hand stroke had before (before.frets_before).
            zeros: whether every string gets its fret, an open one 0; else only those that the pattern names.
            asked: whether the player is to tap it.
        """
        named = stroke.frets or (() if stroke.fret is None else (stroke.fret,))
        frets = stroke.all_frets if zeros and not stroke.muted else named
        return cls(
            beat,
            motion,
            stroke.kind,
            stroke.strings,
            stroke.accented,
            frets,
            came_from,
            stroke.muted,
            stroke.slid_from,
            stroke.triplet,
            asked,
        )


@dataclass(frozen=True, slots=True)
class Knot:
    """A point of the path: beat, height, and slope in spacings a beat (0 at a turn)."""

    beat: float
    height: float
    slope: float


@dataclass(frozen=True, slots=True)
class Branch:
    """A thumb leaving its string at ``start`` and joining the hand at ``end``.

    ``lead`` is the way in beats from the slot before, in which the thumb reaches for its string.
    """

    start: Knot
    end: Knot
    string: int
    accented: bool
    lead: float = USUAL_GAP


@dataclass(frozen=True, slots=True)
class HandPath:
    """A hand's line: ascending knots, and the thumb's branches."""

    knots: tuple[Knot, ...]
    branches: tuple[Branch, ...]

    def heights(self, beats: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the hand's heights at beats; beyond either end it stays where it was.

        Args:
            beats: shape (n,), in any order.

        Returns:
            Shape (n,), in string spacings.
        """
        return hermite(self.knots, beats)


def thumb_height(path: HandPath, beat: float) -> float | None:
    """Return where the thumb is while it is off the hand; None while the hand carries it.

    It reaches for its string, lies on it until its beat, and leaves it along its branch.
    """
    for branch in path.branches:
        start, end = branch.start, branch.end
        if start.beat <= beat <= end.beat:
            return float(hermite((start, end), np.array([beat]))[0])
        if start.beat - SETS_OUT * branch.lead <= beat < start.beat:
            share = (beat - start.beat + SETS_OUT * branch.lead) / ((SETS_OUT - LIES) * branch.lead)
            share = min(share, 1.0)
            hand = float(path.heights(np.array([beat]))[0])
            return hand + (start.height - hand) * share * share * (3 - 2 * share)
    return None


def string_height(string: int) -> float:
    """Return the height of a string, 1 to 5."""
    return float(string - 1)


def path_of(slots: Sequence[Slot]) -> HandPath:
    """Return the line of a hand that plays these slots, in order of beats; at least one is needed."""
    slots = _in_order(slots)
    gaps = [b.beat - a.beat for a, b in itertools.pairwise(slots)]
    gaps.append(gaps[-1] if gaps else USUAL_GAP)
    rough: list[Knot] = []
    for at, slot in enumerate(slots):
        if at and slots[at - 1].motion is slot.motion:
            rough.append(_turn_between(rough[-1], slot))
        rough.extend(_knots_of(slot, gaps[at], min(gaps[max(at - 1, 0)], gaps[at])))
    knots = _calmed(rough)
    branches = tuple(
        _branch(slot, gap, lead, knots)
        for slot, gap, lead in zip(slots, gaps, (gaps[0], *gaps), strict=False)
        if slot.kind in (Kind.THUMB, Kind.DROP_THUMB)
    )
    return HandPath(knots=knots, branches=branches)


def touch_beat(path: HandPath, slot: Slot, string: int) -> float:
    """Return when a stroke meets one of its strings: a brush meets them one after the other."""
    if slot.kind is not Kind.BRUSH:
        return slot.beat
    beats = np.linspace(slot.beat - 0.12, slot.beat + 0.12, 193)
    heights = path.heights(beats)
    lowest = int(np.argmin(heights))
    falling = heights[: lowest + 1]
    # np.interp wants ascending heights, so the fall is read backwards.
    return float(np.interp(string_height(string), falling[::-1], beats[: lowest + 1][::-1]))


def hermite(knots: Sequence[Knot], beats: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return heights of the cubic pieces through knots: h00 y0 + h10 d m0 + h01 y1 + h11 d m1."""
    x = np.array([k.beat for k in knots])
    y = np.array([k.height for k in knots])
    if len(knots) == 1:
        return np.full(beats.shape, y[0])
    m = np.array([k.slope for k in knots])
    held = np.clip(beats, x[0], x[-1])
    at = np.clip(np.searchsorted(x, held, side="right") - 1, 0, len(knots) - 2)
    d = x[at + 1] - x[at]
    t = (held - x[at]) / d
    t2, t3 = t * t, t * t * t
    return np.asarray(
        (2 * t3 - 3 * t2 + 1) * y[at]
        + (t3 - 2 * t2 + t) * d * m[at]
        + (3 * t2 - 2 * t3) * y[at + 1]
        + (t3 - t2) * d * m[at + 1],
        dtype=np.float64,
    )


def _in_order(slots: Sequence[Slot]) -> list[Slot]:
    """Return slots ascending and apart: a lay-back may push one past its neighbour."""
    ordered: list[Slot] = []
    for slot in sorted(slots, key=lambda s: s.beat):
        if not ordered or slot.beat - ordered[-1].beat > 1e-3:
            ordered.append(slot)
    return ordered


def _knots_of(slot: Slot, gap: float, narrow: float) -> list[Knot]:
    if slot.motion is Motion.UP:
        return [Knot(slot.beat + CREST_AFTER * gap, CREST, 0.0)]
    if slot.kind is Kind.STRIKE:
        return [Knot(slot.beat, string_height(slot.strings[0]), 0.0)]
    if slot.kind is Kind.BRUSH:
        first, last = string_height(slot.strings[0]), string_height(slot.strings[-1])
        middle, low = (first + last) / 2, last - BRUSH_BELOW
        after = BRUSH_AFTER * narrow
        return [
            Knot(slot.beat, middle, -1.6 * (middle - low) / after),
            Knot(slot.beat + after, low, 0.0),
        ]
    return [Knot(slot.beat, SKIP_TURN if slot.kind is Kind.SKIP else IDLE_TURN, 0.0)]


def _turn_between(before: Knot, slot: Slot) -> Knot:
    """Return the turn that a hand makes between two slots of the same motion."""
    beat = (before.beat + slot.beat) / 2
    if slot.motion is Motion.DOWN:
        return Knot(beat, BETWEEN_DOWNS, 0.0)
    return Knot(beat, SKIP_TURN, 0.0)


def _calmed(rough: Sequence[Knot]) -> tuple[Knot, ...]:
    """Return knots with slopes that let no piece swing past its ends."""
    chords = [(b.height - a.height) / (b.beat - a.beat) for a, b in itertools.pairwise(rough)]
    calm = []
    for at, knot in enumerate(rough):
        sides = chords[max(at - 1, 0) : at + 1]
        rising = all(c > 0 for c in sides)
        falling = all(c < 0 for c in sides)
        limit = 3 * min((abs(c) for c in sides), default=0.0) if rising or falling else 0.0
        slope = min(max(knot.slope, -limit), limit)
        calm.append(Knot(knot.beat, knot.height, slope))
    return tuple(calm)


def _branch(slot: Slot, gap: float, lead: float, knots: Sequence[Knot]) -> Branch:
    end = slot.beat + BRANCH * gap
    step = 1e-4
    near = hermite(knots, np.array([end - step, end, end + step]))
    string = slot.strings[0]
    height = string_height(string)
    joined = float(near[1])
    slope = float(near[2] - near[0]) / (2 * step)
    chord = (joined - height) / (end - slot.beat)
    return Branch(
        start=Knot(slot.beat, height, 0.9 * chord),
        end=Knot(end, joined, min(max(slope, 0.0), 3 * chord)),
        string=string,
        accented=slot.accented,
        lead=lead,
    )
