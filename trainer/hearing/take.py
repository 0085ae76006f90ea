"""Hold what a sound file of a banjo holds, and turn it into taps once tempo and beat 0 are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.hearing.click_line import ClickLine
from trainer.hearing.listening import HeardStroke
from trainer.hearing.onsets import THRESHOLD
from trainer.hearing.room import touch_threshold
from trainer.hearing.strings import StringEar
from trainer.hearing.taps import TOUCH_THRESHOLD, BesideClicks, heard_taps, target_at
from trainer.judging.offset import passes_reached
from trainer.judging.take import Tap
from trainer.music.layout import NO_FEEL, Feel, Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline

LEAST_HEARD = 8  # soft sounds that tell what a room does by itself
PLAYED_SHARE = 0.25  # of the usual rise
ROUND_TEMPO = 0.002  # a tempo this near a whole or half one is that


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTake:
    """What a sound file of a banjo holds: its strokes, and where the beats lie.

    Attributes:
        pattern: what was asked.
        strokes: what was heard to begin, in order.
        line: the beats, by the clicks that were heard; None where there are none.
        tells_newness: whether newness says anything; where it does not, touches are told by their rise.
        beside_clicks: what the clicks do to soft sounds; None without clicks.
        feel: how the targets are moved.
        notes: what is to be said about the recording.
        faults: those of the notes that say what is wrong with the sound.
    """

    pattern: Pattern
    strokes: tuple[HeardStroke, ...]
    line: ClickLine | None
    tells_newness: bool = True
    beside_clicks: BesideClicks | None = None
    feel: Feel = NO_FEEL
    notes: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()

    @property
    def bpm(self) -> float | None:
        """The tempo of the clicks in quarter notes a minute, None without clicks."""
        return (
            None
            if self.line is None
            else float(plain_tempo(self.line.bpm) * self.pattern.meter.beat_quarters)
        )

    @property
    def beat_0_s(self) -> float | None:
        """Second of the recording at which beat 0 lies by the count-in; None where none was heard."""
        return None if self.line is None else self.line.beat_0_s

    def plain_taps(self) -> tuple[Tap, ...]:
        """Return the strokes as taps in seconds of the recording, by which beat 0 can be looked for."""
        return heard_taps(self.strokes, (), StringEar(self.pattern.tuning), beat_0_s=0.0)

    def taps(self, bpm: Fraction, *, offset_s: float) -> tuple[Tap, ...]:
        """Return the strokes as taps; strings and touched skips are told by what was asked.

        What lies before the first stroke by more than half a slot is the count-in, and left out.

        Args:
            bpm: the tempo.
            offset_s: second of the recording at which beat 0 lies.
        """
        timeline = Timeline.steady(bpm)
        last_s = self._last_stroke_s - offset_s
        passes = passes_reached(self.pattern, timeline, max(0.0, last_s))
        targets = lay_out(self.pattern, timeline, passes=passes, feel=self.feel)
        half_slot_s, clock = targets[0].slot_s / 2, self._clock(bpm)
        taps = heard_taps(
            self.strokes,
            targets,
            StringEar(self.pattern.tuning),
            beat_0_s=offset_s,
            clock=clock,
            touch_threshold=self._touch_threshold(targets, offset_s, clock) if self.tells_newness else None,
            beside_clicks=self.beside_clicks,
        )
        return tuple(tap for tap in taps if -half_slot_s <= tap.song_s <= last_s + half_slot_s)

    def _touch_threshold(self, targets: Sequence[Target], offset_s: float, clock: float) -> float:
        """Return how strong a touch has to be in this room: no set-up has learnt it, so the take itself tells
        what sounds where no touch is asked about.
        """
        asked = [each for each in targets if each.stroke.kind is not Kind.REST]
        times = [each.song_s for each in asked]
        by_themselves = []
        for stroke in self.strokes:
            song_s = (stroke.time_s - offset_s) * clock
            at = target_at(asked, times, song_s)
            if stroke.rise < THRESHOLD and (at is None or at.stroke.kind is not Kind.SKIP):
                by_themselves.append(stroke)
        return touch_threshold(by_themselves) if len(by_themselves) >= LEAST_HEARD else TOUCH_THRESHOLD

    @property
    def _last_stroke_s(self) -> float:
        """Second of the recording of the last stroke; the rustle of laying the banjo down is none."""
        rises = sorted(stroke.rise for stroke in self.strokes if stroke.rise >= THRESHOLD)
        least = PLAYED_SHARE * rises[len(rises) // 2]
        return max(
            (each.time_s for each in self.strokes if each.rise >= self._least(each, least)), default=0.0
        )

    def _least(self, stroke: HeardStroke, least: float) -> float:
        """Return how much a stroke has to stand out to be none of the clicks that go on after the playing."""
        beside = self.beside_clicks
        return max(least, beside.rise) if beside is not None and beside.near(stroke.time_s) else least

    def _clock(self, bpm: Fraction) -> float:
        """Return the seconds of the song to one of the recording: no two devices keep the same second."""
        if self.line is None:
            return 1.0
        clock = 60 / float(bpm) / self.line.seconds_per_beat
        return clock if abs(clock - 1) <= ROUND_TEMPO else 1.0


def plain_tempo(bpm: float) -> Fraction:
    """Return a measured tempo as it was meant: the whole or half one near it, else to a thousandth."""
    plain = Fraction(round(bpm * 2), 2)
    near = plain > 0 and abs(bpm / float(plain) - 1) <= ROUND_TEMPO
    return plain if near else Fraction(round(bpm * 1000), 1000)
