"""Lay a figure the way a player may have played it: shifted, at another tempo, with a jump, in parts.

Times are counted in slots of the click, so a change of tempo in the middle of a take needs no thought: slot
``u`` lies at beat u / slots_per_beat of the timeline. A player's course says at which slot of the click each
slot ``j``
of the figure is played: u = start + rate * j + bend * j**2; a jump adds whole slots from some slot of the
    click on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trainer.judging.reading_fit import Version
from trainer.judging.spared import Span, is_spared
from trainer.music.layout import NO_FEEL, Feel, Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline

MOST_PASSES = 10_000
MOST_KEPT, SHORT_LAYING = 32, 400  # figures that stay laid, and the slots of one; 4 MB at most
BARS_BEFORE = 2  # of passes before those asked, which who is late still plays
MORE_PASSES = 2  # laid at once, for the next version may reach a little further


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What was asked of a take.

    Attributes:
        pattern: the figure.
        timeline: the tempo, from beat 0.
        passes: how often; None when nobody said, so that the take goes as far as its taps.
        feel: how the targets were moved on purpose.
        knows_left: whether the input can hear the left hand.
        until_s: second at which the take was broken off; None when it ran to its end.
        spans: where nothing is judged (:mod:`trainer.judging.spared`).
        marks_skips: whether skips are marked on a side pad.
        is_part: these are passes from the middle of a take, so that its begin and end say nothing.
        follows: passes came before these: who is late is still playing them.
    """

    pattern: Pattern
    timeline: Timeline
    passes: int | None = None
    feel: Feel = NO_FEEL
    knows_left: bool = False
    until_s: float | None = None
    spans: tuple[Span, ...] = ()
    marks_skips: bool = False
    is_part: bool = False
    follows: bool = False


@dataclass(frozen=True, slots=True)
class Course:
    """How a figure runs beside the click, in slots: u = start + rate * j + bend * j**2."""

    start: float = 0.0
    rate: float = 1.0
    bend: float = 0.0

    def at(self, j: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the slots of the click at which slots of the figure are played."""
        return self.start + self.rate * j + self.bend * j * j

    def reaches(self, u: float) -> float:
        """Return the slot of the figure that is played at a slot of the click, about."""
        j = (u - self.start) / self.rate
        for _ in range(8):
            slope = self.rate + 2 * self.bend * j
            if abs(slope) < 0.1:
                break
            j -= (self.start + self.rate * j + self.bend * j * j - u) / slope
        return j


@dataclass(frozen=True, slots=True)
class Segment:
    """From slot ``since`` of the click on, the figure runs ``late`` slots late (negative: early)."""

    since: float
    late: int


class Grid:
    """Slots of a click and seconds, both ways, for whole arrays."""

    def __init__(self, timeline: Timeline, slots_per_beat: int) -> None:
        self._start_u = np.array([float(s.start_beat) * slots_per_beat for s in timeline.spans])
        self._start_s = np.array([float(s.start_s) for s in timeline.spans])
        self._slot_s = np.array([60.0 / (float(s.bpm) * slots_per_beat) for s in timeline.spans])
        self.slot_s = float(self._slot_s[0])
        self.beat_s = self.slot_s * slots_per_beat

    def slots(self, song_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the slots at some seconds."""
        at = np.maximum(0, np.searchsorted(self._start_s, song_s, side="right") - 1)
        return np.asarray(self._start_u[at] + (song_s - self._start_s[at]) / self._slot_s[at])

    def seconds(self, slots: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the seconds of some slots."""
        at = np.maximum(0, np.searchsorted(self._start_u, slots, side="right") - 1)
        return np.asarray(self._start_s[at] + (slots - self._start_u[at]) * self._slot_s[at])


def slots_in(pattern: Pattern) -> int:
    """Return the slots of one pass."""
    return len(pattern.strokes)


def laid(
    pattern: Pattern, timeline: Timeline, feel: Feel, passes: int, first_pass: int = 0
) -> tuple[Target, ...]:
    """Return the targets of a figure under the click of a take, rests left out."""
    # While a drill runs the same few figures are laid under the same click at the end of each pass.
    lay = _laid_and_kept if passes * slots_in(pattern) <= SHORT_LAYING else _laid
    return lay(pattern, timeline, feel, passes, first_pass)


def _laid(
    pattern: Pattern, timeline: Timeline, feel: Feel, passes: int, first_pass: int
) -> tuple[Target, ...]:
    found = lay_out(pattern, timeline, passes=passes, first_pass=first_pass, feel=feel)
    return tuple(t for t in found if t.stroke.kind is not Kind.REST)


_laid_and_kept = lru_cache(maxsize=MOST_KEPT)(_laid)


class FigureLaying:
    """Lays figures for one take; what was laid once is kept."""

    def __init__(self, asked: Asked, grid: Grid, last_u: float) -> None:
        self.asked = asked
        self.grid = grid
        self.last_u = last_u  # slot of the last tap
        self._laid: dict[str, tuple[tuple[Target, ...], NDArray[np.float64], NDArray[np.float64]]] = {}

    @property
    def asked_u(self) -> float:
        """Slot up to which strokes are asked: the end of the last pass, or half a slot after the last tap."""
        pattern, passes = self.asked.pattern, self.asked.passes
        end = self.last_u + 0.5 if passes is None else passes * slots_in(pattern) - 0.5
        if self.asked.until_s is not None:
            end = min(end, float(self.grid.slots(np.array([self.asked.until_s]))[0]) + 0.01)
        return end

    @property
    def end_u(self) -> float:
        """Slot up to which strokes can have been played: who is late goes on after the end."""
        return max(self.asked_u, self.last_u + 0.5)

    def version(
        self, pattern: Pattern, course: Course, *, jumps: Sequence[Segment] = (), only: Hand | None = None
    ) -> Version:
        """Return the strokes of a figure on a course, as far as they are asked.

        Args:
            jumps: ascending, each in force until the next; the course's own start holds before the first.
            only: the one hand whose strokes are played, None for both.
        """
        end = self.end_u
        most_late = max([0, *(s.late for s in jumps)]) - min([0, *(s.late for s in jumps)])
        reached = course.reaches(end + most_late) + 1
        passes = min(MOST_PASSES, max(1, -(-int(np.ceil(reached)) // slots_in(pattern))))
        targets, j, layback_s = self._targets(pattern, passes)
        if not jumps:
            u = course.at(j)
            beyond = j > self.asked_u
            # At twice the tempo, say, passes beyond those asked were played, as far as the taps go.
            keep = (u <= end) & (~beyond if course.rate == 1.0 else (u <= self.last_u + 0.5) | ~beyond)
            if course == Course():
                keep &= u <= self.asked_u
            if self.asked.is_part:
                keep &= u >= -0.5
            return self._made(pattern, targets, u, layback_s, keep, course, only)
        return self._jumping(pattern, targets, j, layback_s, course, jumps, only)

    def _targets(
        self, pattern: Pattern, passes: int
    ) -> tuple[tuple[Target, ...], NDArray[np.float64], NDArray[np.float64]]:
        each = sum(1 for stroke in pattern.strokes if stroke.kind is not Kind.REST)
        before = -(-BARS_BEFORE * pattern.slots_per_bar // slots_in(pattern)) if self.asked.follows else 0
        kept = self._laid.get(pattern.name)
        n = (before + passes) * each
        if kept is None or len(kept[0]) < n:
            asked, more = self.asked, before + passes + MORE_PASSES
            targets = laid(pattern, asked.timeline, asked.feel, more, first_pass=-before)
            spb = pattern.slots_per_beat
            j = np.array([float(t.beat) * spb for t in targets])
            back_s = np.array([t.song_s for t in targets]) - self.grid.seconds(j)
            kept = self._laid[pattern.name] = (targets, j, back_s)
        return kept[0][:n], kept[1][:n], kept[2][:n]

    def _made(
        self,
        pattern: Pattern,
        targets: tuple[Target, ...],
        u: NDArray[np.float64],
        layback_s: NDArray[np.float64],
        keep: NDArray[np.bool_],
        course: Course,
        only: Hand | None,
    ) -> Version:
        at_s = self.grid.seconds(u) + layback_s
        chosen = [
            at
            for at in np.flatnonzero(keep)
            if (only is None or targets[at].stroke.kind.hand in (only, Hand.NONE))
            and not is_spared(self.asked.spans, float(at_s[at]))
        ]
        chosen.sort(key=lambda at: at_s[at])
        return Version(
            targets=tuple(targets[at] for at in chosen),
            at_s=tuple(float(at_s[at]) for at in chosen),
            rate=course.rate,
            slots_per_beat=pattern.slots_per_beat,
        )

    def _jumping(
        self,
        pattern: Pattern,
        targets: tuple[Target, ...],
        j: NDArray[np.float64],
        layback_s: NDArray[np.float64],
        course: Course,
        jumps: Sequence[Segment],
        only: Hand | None,
    ) -> Version:
        edges = [*(s.since for s in jumps[1:]), self.end_u + 0.5]
        rows: list[tuple[float, int, float]] = []
        for segment, until in zip(jumps, edges, strict=True):
            u = course.at(j) + segment.late
            since = segment.since if segment is not jumps[0] else (0.0 if self.asked.is_part else -np.inf)
            inside = np.flatnonzero((u >= since - 0.5) & (u < until - 0.5) & (j <= self.asked_u))
            rows += [(float(u[at]), int(at), float(layback_s[at])) for at in inside]
        seen: set[int] = set()
        copies = set()
        rows.sort()
        kept = [
            row for row in rows
            if only is None or targets[row[1]].stroke.kind.hand in (only, Hand.NONE)
        ]  # fmt: skip
        for index, (_, at, _) in enumerate(kept):
            if at in seen:
                copies.add(index)
            seen.add(at)
        at_s = self.grid.seconds(np.array([row[0] for row in kept])) + np.array([row[2] for row in kept])
        return Version(
            targets=tuple(targets[row[1]] for row in kept),
            at_s=tuple(float(s) for s in at_s),
            rate=course.rate,
            slots_per_beat=pattern.slots_per_beat,
            copies=frozenset(copies),
        )
