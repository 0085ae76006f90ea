"""Say while a drill runs how it is being played as a whole, quietly, at the end of a pass.

What the last passes read as is said when it was read twice in a row, or once beyond doubt, and taken back
when something else was read twice in a row; between passes nothing changes, so nothing flickers. Where
another way of playing is likelier than what was asked, but not by enough to be said, more passes are weighed:
of a figure whose bars are nearly alike few tell that it is played a bar late. What stays open even so, and
what is as likely as another way (a bar late and a bar early, of a figure of two bars), takes nothing back. A
pass that is plainly as asked is not weighed, and weighing goes in steps of a few milliseconds, one for each
call.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.judging.reading import told
from trainer.judging.reading_grid import Asked
from trainer.judging.reading_weigh import MARGIN_NATS, Weighing, weighing_steps
from trainer.judging.readings import Reading, ReadingKind
from trainer.judging.take import Outcome, Tap, Verdict
from trainer.music.layout import Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill

LEAST_STROKES = 12  # fewer say too little of a whole
ENOUGH_STROKES = 24  # more would hold on to what a player has mended
MORE_STROKES = 96  # where so few leave it open
LEAST_PASSES = 2
MOST_PASSES = 24
PLAIN_SHARE = 0.95  # of the strokes by the right hand near their places, less skips touched: as asked
NEAR_SHARE = 0.3  # of a slot
BEYOND_DOUBT = 3 * MARGIN_NATS
EVEN_NATS = 3.0  # odds of 20 : 1; less is no reason to say another thing
SAME_AMOUNT = 0.03  # of the amount: what is said does not change for less
SAID = frozenset(
    {
        ReadingKind.EARLY,
        ReadingKind.LATE,
        ReadingKind.SLOT_EARLY,
        ReadingKind.SLOT_LATE,
        ReadingKind.BEAT_EARLY,
        ReadingKind.BEAT_LATE,
        ReadingKind.BAR_EARLY,
        ReadingKind.BAR_LATE,
        ReadingKind.OTHER_TEMPO,
        ReadingKind.HALF_TIME,
        ReadingKind.DOUBLE_TIME,
        ReadingKind.PADS_EXCHANGED,
        ReadingKind.ONE_HAND_ONLY,
        ReadingKind.ANOTHER_FIGURE,
        ReadingKind.SWUNG,
        ReadingKind.NOTHING_FITS,
    }
)


class ReadingSoFar:
    """Follows one drill; from the app's own thread only, once for each picture."""

    def __init__(self, drill: Drill) -> None:
        self._drill = drill
        self._next = 0  # pass that is waited for
        self._first = 0  # pass from which on is weighed
        self._steps: Iterator[Weighing | None] | None = None
        self._asked: tuple[Asked, tuple[Target, ...], tuple[Tap, ...]] | None = None
        self._said: Reading | None = None
        self._last: Reading | None = None  # what the last pass read as, None for as asked

    @property
    def sentence(self) -> str:
        """What to say now; empty while all is as asked. Changes at the end of a pass only."""
        return "" if self._said is None else self._said.sentence

    @property
    def reading(self) -> Reading | None:
        """The reading that is said; None while all is as asked."""
        return self._said

    def tick(self) -> None:
        """Go on by one small step; call it once for each picture."""
        if self._steps is None:
            outcomes = self._drill.pass_outcomes(self._next)
            if outcomes:
                self._begin(outcomes)
                self._next += 1
            return
        found = next(self._steps)
        if found is not None and self._asked is not None:
            self._steps = None
            is_open = found.best is found.as_asked and found.margin < 0
            if is_open and self._widened():
                return
            asked, targets, taps = self._asked
            judged = told(found, asked, targets, taps, pocket=self._drill.settings.pocket)
            # That nothing fits is never said after one pass: a part of a figure can be an even row.
            best = found.best.nats - found.as_asked.nats if found.best is not None else 0.0
            is_even = found.best is not found.as_asked and found.margin < EVEN_NATS
            clear = found.margin >= (EVEN_NATS if self._said is None else MARGIN_NATS)
            if self._said is None or not (is_open or is_even):
                self._hear(judged.reading, sure=clear and best >= BEYOND_DOUBT)

    def _begin(self, outcomes: Sequence[Outcome]) -> None:
        """Look at a pass that is over, with those before it at the same tempo."""
        first, window = self._window(outcomes, ENOUGH_STROKES)
        if _sounding(window) < LEAST_STROKES:
            return
        if _is_plain(window):
            self._hear(None, sure=False)
            return
        self._weigh(first, self._next - first + 1)

    def _widened(self) -> bool:
        """Weigh more passes instead, up to the one weighed last; False where there are no more."""
        last = self._next - 1
        outcomes = self._drill.pass_outcomes(last)
        first, _ = self._window(outcomes, MORE_STROKES, last=last)
        if not outcomes or first >= self._first:
            return False
        self._weigh(first, last - first + 1)
        return self._steps is not None

    def _window(
        self, outcomes: Sequence[Outcome], enough: int, *, last: int | None = None
    ) -> tuple[int, list[Outcome]]:
        """Return the first pass and the outcomes of a pass and of those before it, until they are enough."""
        window = list(outcomes)
        last = self._next if last is None else last
        first = last
        while first > 0 and last - first + 1 < MOST_PASSES:
            if last - first + 1 >= LEAST_PASSES and _sounding(window) >= enough:
                break
            before = self._drill.pass_outcomes(first - 1)
            if not before or not math.isclose(before[0].target.slot_s, window[0].target.slot_s):
                break
            window = [*before, *window]
            first -= 1
        return first, window

    def _weigh(self, first: int, passes: int) -> None:
        settings, timeline = self._drill.settings, self._drill.timeline
        pattern = settings.pattern
        start_beat = Fraction(first * pattern.beats)
        start_s = timeline.seconds(start_beat)
        end_s = timeline.seconds(Fraction((first + passes) * pattern.beats))
        steady = Timeline.steady(timeline.span_at(start_beat).bpm)
        targets = lay_out(pattern, steady, passes=passes, feel=settings.feel)
        reach_s = targets[0].slot_s / 2
        taps = tuple(
            replace(tap, song_s=tap.song_s - start_s)
            for tap in self._drill.taps_since(start_s - reach_s)
            if tap.song_s < end_s - reach_s and tap.hand is not Hand.NONE
        )
        if not taps:
            self._hear(None, sure=False)
            return
        asked = Asked(
            is_part=True,
            follows=first > 0,
            pattern=pattern,
            timeline=steady,
            passes=passes,
            feel=settings.feel,
            knows_left=settings.knows_left,
            marks_skips=settings.marks_skips,
        )
        self._asked = (asked, targets, taps)
        self._first = first
        self._steps = weighing_steps(asked, taps, settings.others)

    def _hear(self, reading: Reading | None, *, sure: bool) -> None:
        """Take in what a pass reads as."""
        if reading is not None and reading.kind not in SAID:
            reading = None
        again = _alike(reading, self._last)
        self._last = reading
        if _alike(reading, self._said):
            return
        if again or (sure and reading is not None):
            self._said = reading


def _alike(one: Reading | None, other: Reading | None) -> bool:
    """Return whether two readings say the same, as far as a player can tell."""
    if one is None or other is None:
        return one is other
    if one.kind is not other.kind or one.also != other.also or one.figure != other.figure:
        return False
    a, b = one.amount or 0.0, other.amount or 0.0
    return abs(a - b) <= SAME_AMOUNT * max(abs(a), abs(b))


def _sounding(outcomes: Sequence[Outcome]) -> int:
    return sum(1 for o in outcomes if o.target.stroke.kind is not Kind.SKIP)


def _is_plain(outcomes: Sequence[Outcome]) -> bool:
    """Return whether nearly all strokes were made by the right hand near their places, and skips kept."""
    near = sum(
        1
        for o in outcomes
        if o.placement_s is not None
        and o.target.stroke.kind is not Kind.SKIP
        and o.verdict is not Verdict.WRONG_HAND
        and abs(o.placement_s) <= NEAR_SHARE * o.target.slot_s
    )
    touched = sum(1 for o in outcomes if o.verdict is Verdict.TOUCHED)
    return near - touched >= PLAIN_SHARE * _sounding(outcomes)


def figures_beside(pattern: Pattern, library: Sequence[Pattern]) -> tuple[Pattern, ...]:
    """Return the figures that a reading may name instead of one: on the same grid, and each to be heard once.

    Of figures that differ in accents or in how often they are written out only the first of the library's is
    there, for taps tell no more.
    """
    known = {_heard_as(pattern)}
    found: list[Pattern] = []
    for other in library:
        same_grid = other.meter == pattern.meter and other.slots_per_beat == pattern.slots_per_beat
        if other.name == pattern.name or not same_grid or _heard_as(other) in known:
            continue
        known.add(_heard_as(other))
        found.append(other)
    return tuple(found)


def _heard_as(pattern: Pattern) -> tuple[tuple[object, ...], ...]:
    """Return what taps can tell of a figure, in its shortest form: whose each stroke is, on which strings."""
    bars = [
        tuple((s.hand, s.strings) if s.kind.sounds else None for s in strokes) for strokes in pattern.bars
    ]
    n = len(bars)
    short = next(k for k in range(1, n + 1) if n % k == 0 and bars == bars[:k] * (n // k))
    return tuple(bars[:short])
