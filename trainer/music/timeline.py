"""Say when each beat falls: exact beats to seconds to frames, and back.

Beats are exact fractions counted from the first stroke; the count-in has negative beats. A timeline is
a row of spans, each with one tempo; a tempo change is a new span at a beat. Inside, seconds are exact
fractions too, so nothing adds up: a float or a frame is rounded once, at the end.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.exact import read_exact
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM, Meter
from trainer.music.source import LONGEST_SHOWN, shown

STRAIGHT = Fraction(1)
MAX_SWING = Fraction(4)  # ride cymbals reach 3.5:1 at slow tempi: Friberg & Sundstrom 2002
MIN_COUNT_IN_BEATS = 3
BPM_DECIMALS = 3  # of a measured tempo: within 2 ms after five minutes from 75 on


def as_tempo(value: int | float | str | Fraction) -> Fraction:
    """Return a tempo in beats a minute as an exact fraction: 97.3 becomes 973/10, as written.

    Raises:
        BadSettings: not a number, or outside 20 to 400.

    >>> as_tempo("97.3"), as_tempo(120.5)
    (Fraction(973, 10), Fraction(241, 2))
    """
    try:
        bpm = value if isinstance(value, Fraction) else read_exact(str(value))
    except ValueError:
        raise BadSettings(f"found {shown(value)} for a tempo", "write a number of beats a minute") from None
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        words = value[:LONGEST_SHOWN] if isinstance(value, str) else shown(value)
        raise BadSettings(
            f"a tempo of {words} beats a minute is outside {SLOWEST_BPM} to {FASTEST_BPM}",
            "choose one inside",
        )
    return bpm


@dataclass(frozen=True, slots=True, kw_only=True)
class TempoSpan:
    """One tempo from one beat on; the first span also reaches back before its start."""

    start_beat: Fraction
    start_s: Fraction
    bpm: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Timeline:
    """A one-to-one map between beats and seconds; beat 0 is second 0.

    Attributes:
        spans: ascending by ``start_beat``, at least one.

    >>> timeline = Timeline.steady(60).with_tempo(120, from_beat=Fraction(4))
    >>> [timeline.seconds(Fraction(beat)) for beat in (-4, 0, 4, 6)]
    [-4.0, 0.0, 4.0, 5.0]
    >>> timeline.beat(5.0), timeline.frame(Fraction(6), 48_000)
    (6.0, 240000)
    """

    spans: tuple[TempoSpan, ...]

    @classmethod
    def steady(cls, bpm: int | float | str | Fraction) -> Timeline:
        """Make a timeline of one tempo."""
        return cls(spans=(TempoSpan(start_beat=Fraction(0), start_s=Fraction(0), bpm=as_tempo(bpm)),))

    def with_tempo(self, bpm: int | float | str | Fraction, *, from_beat: Fraction) -> Timeline:
        """Return this timeline with another tempo from a beat on; later changes are dropped.

        Raises:
            BadSettings: a tempo outside what can be used.
        """
        kept = tuple(span for span in self.spans if span.start_beat < from_beat)
        if not kept:
            # The change is at or before the first anchor: the old tempo would hold for no beat of it.
            first = self.spans[0]
            return Timeline(
                spans=(TempoSpan(start_beat=first.start_beat, start_s=first.start_s, bpm=as_tempo(bpm)),)
            )
        start_s = self.exact_seconds(from_beat)
        return Timeline(spans=(*kept, TempoSpan(start_beat=from_beat, start_s=start_s, bpm=as_tempo(bpm))))

    def span_at(self, beat: Fraction) -> TempoSpan:
        """Return the span that a beat lies in; a beat on a change lies in the new span."""
        if len(self.spans) == 1:
            return self.spans[0]
        at = bisect_right(self.spans, beat, key=lambda s: s.start_beat) - 1
        return self.spans[max(at, 0)]

    def exact_seconds(self, beat: Fraction) -> Fraction:
        """Return the second of a beat, exactly: start + (beat - start_beat) * 60 / bpm."""
        span = self.span_at(beat)
        return span.start_s + (beat - span.start_beat) * 60 / span.bpm

    def seconds(self, beat: Fraction) -> float:
        """Return the second of a beat, rounded once to a float."""
        above, below = self._as_quotient(beat)
        return above / below

    def seconds_of(self, beat: float) -> float:
        """Return the second of a beat given as a float: the inverse of :meth:`beat`, for drawing."""
        span = self.span_at(Fraction(beat))
        return float(span.start_s) + (beat - float(span.start_beat)) * 60.0 / float(span.bpm)

    def frame(self, beat: Fraction, rate: int) -> int:
        """Return the audio frame nearest to a beat, halves up, at ``rate`` frames a second.

        It is ``floor(exact_seconds(beat) * rate + 1/2)``.
        """
        above, below = self._as_quotient(beat)
        return (2 * rate * above + below) // (2 * below)

    def _as_quotient(self, beat: Fraction) -> tuple[int, int]:
        """Return whole numbers whose quotient is the second of a beat, not reduced.

        A stream asks for thousands of frames a second, and whole numbers are several times as fast as
        fractions.
        """
        span = self.span_at(beat)
        start, first, bpm = span.start_s, span.start_beat, span.bpm
        since = beat.numerator * first.denominator - first.numerator * beat.denominator
        below = beat.denominator * first.denominator * bpm.numerator
        above = start.numerator * below + 60 * since * bpm.denominator * start.denominator
        return above, below * start.denominator

    def beat(self, song_s: float) -> float:
        """Return the beat at a second, as a float: for drawing, not for judging."""
        at = bisect_right(self.spans, song_s, key=lambda s: float(s.start_s)) - 1
        span = self.spans[max(at, 0)]
        return float(span.start_beat) + (song_s - float(span.start_s)) * float(span.bpm) / 60.0


def count_in_beats(meter: Meter) -> int:
    """Return the length of the count-in in beats: whole bars, at least three beats.

    >>> [(meter.value, count_in_beats(meter)) for meter in Meter]
    [('2/4', 4), ('3/4', 3), ('4/4', 4), ('6/8', 4), ('9/8', 3)]
    """
    return meter.beats * math.ceil(MIN_COUNT_IN_BEATS / meter.beats)


def slot_in_beat(slots_per_beat: int, slot: int, swing: Fraction = STRAIGHT) -> Fraction:
    """Return where a slot lies inside its beat, from 0 up to but not including 1.

    Swing moves the second slot of each pair: a ratio r (long to short) puts it at r/(1+r) of the pair,
    so 2 gives two thirds (Friberg & Sundstrom 2002). Three slots to the beat are not moved.

    Args:
        slots_per_beat: 2, 3 or 4.
        slot: 0 to ``slots_per_beat - 1``.
        swing: long to short, 1 for straight.

    Raises:
        BadSettings: a swing ratio below 1 or above 4.

    >>> [str(slot_in_beat(2, 1, Fraction(ratio))) for ratio in (1, 2, 3)]
    ['1/2', '2/3', '3/4']
    >>> [str(slot_in_beat(4, slot, Fraction(2))) for slot in range(4)]
    ['0', '1/3', '1/2', '5/6']
    """
    if not STRAIGHT <= swing <= MAX_SWING:
        raise BadSettings(f"a swing ratio of {swing} is outside 1 to {MAX_SWING}", "choose one inside")
    if slots_per_beat == 3:
        return Fraction(slot, 3)
    pair, half = divmod(slot, 2)
    pair_length = Fraction(2, slots_per_beat)
    return pair_length * (pair + (swing / (1 + swing) if half else 0))
