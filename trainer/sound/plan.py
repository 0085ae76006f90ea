"""Say what sounds when: a plan is a value, and its events are a pure function of it.

Frames of the stream count from its start; the stream frame of a beat is its frame in the timeline plus
``origin_frame``. So every click stands where exact arithmetic puts it, whenever it is asked for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.layout import NO_FEEL, Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline, count_in_beats, slot_in_beat
from trainer.sound.clicks import Click, Samples, click_samples
from trainer.sound.pluck import stroke_samples

RATE = 48_000
LEAD_S = 0.6  # silence before the count-in, in which the clock line finds its place


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundSettings:
    """What is heard and how loud, in dB below full scale.

    Attributes:
        click: whether the metronome sounds; the count-in always does.
        click_db, stroke_db: volumes.
        subdivide: clicks on the slots between beats.
        strokes: the whole figure is played (a demonstration).
        left_hand: strokes of the left hand are played, for an input that cannot hear them.
    """

    click: bool = True
    click_db: float = -9.0
    stroke_db: float = -9.0
    subdivide: bool = False
    strokes: bool = False
    left_hand: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamPlan:
    """One stream from its first frame to its end.

    Attributes:
        pattern, timeline, feel: what is played and when.
        passes: 0 goes on without end.
        origin_frame: the stream frame of beat 0.
        settings: what is heard.
        rate: frames a second.
    """

    pattern: Pattern
    timeline: Timeline
    passes: int
    origin_frame: int
    settings: SoundSettings = SoundSettings()
    feel: Feel = NO_FEEL
    rate: int = RATE

    def frame_of(self, beat: Fraction) -> int:
        """Return the stream frame of a beat."""
        return self.origin_frame + self.timeline.frame(beat, self.rate)

    def song_s(self, frame: float) -> float:
        """Return the second from beat 0 at a stream frame."""
        return (frame - self.origin_frame) / self.rate

    @property
    def end_beat(self) -> Fraction | None:
        """The beat after which nothing sounds; None without end."""
        return Fraction(self.passes * self.pattern.beats) if self.passes else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A sound and the stream frame at which it begins."""

    frame: int
    samples: Samples


def plan_for(
    pattern: Pattern,
    timeline: Timeline,
    *,
    passes: int,
    settings: SoundSettings,
    feel: Feel = NO_FEEL,
    rate: int = RATE,
) -> StreamPlan:
    """Return a plan with a short silence and the count-in before beat 0."""
    count_in = -timeline.frame(Fraction(-count_in_beats(pattern.meter)), rate)
    return StreamPlan(
        pattern=pattern,
        timeline=timeline,
        passes=passes,
        origin_frame=round(LEAD_S * rate) + count_in,
        settings=settings,
        feel=feel,
        rate=rate,
    )


def click_frames(plan: StreamPlan, first_frame: int, last_frame: int) -> list[tuple[int, Click]]:
    """Return the clicks that begin at ``first_frame`` or later and before ``last_frame``, in order."""
    found = []
    slots = plan.pattern.slots_per_beat if plan.settings.subdivide else 1
    for beat in range(*_whole_beats(plan, first_frame, last_frame)):
        for slot in range(slots):
            click = _click(plan, beat, slot)
            if click is None:
                continue
            place = beat + slot_in_beat(slots, slot, plan.feel.swing) if slot else Fraction(beat)
            frame = plan.frame_of(place)
            if first_frame <= frame < last_frame:
                found.append((frame, click))
    return found


def events(plan: StreamPlan, first_frame: int, last_frame: int) -> list[Event]:
    """Return all sounds that begin from ``first_frame`` to before ``last_frame``, in order of frames."""
    settings = plan.settings
    found = [
        Event(frame=frame, samples=click_samples(click, settings.click_db, plan.rate))
        for frame, click in click_frames(plan, first_frame, last_frame)
    ]
    if settings.strokes or settings.left_hand:
        found += _stroke_events(plan, first_frame, last_frame)
    return sorted(found, key=lambda e: e.frame)


def _whole_beats(plan: StreamPlan, first_frame: int, last_frame: int) -> tuple[int, int]:
    """Return a range of beats that surely covers the frames; a beat more at each end does no harm."""
    first = math.floor(plan.timeline.beat(plan.song_s(first_frame))) - 1
    last = math.ceil(plan.timeline.beat(plan.song_s(last_frame))) + 1
    first = max(first, -count_in_beats(plan.pattern.meter))
    if plan.end_beat is not None:
        last = min(last, int(plan.end_beat))
    return first, last


def _click(plan: StreamPlan, beat: int, slot: int) -> Click | None:
    beats = plan.pattern.meter.beats
    if beat < 0:
        if slot:
            return None
        return Click.COUNT_IN_FIRST if beat % beats == 0 else Click.COUNT_IN
    if not plan.settings.click:
        return None
    if slot:
        return Click.SUBDIVISION
    return Click.FIRST_BEAT if beat % beats == 0 else Click.BEAT


def _stroke_events(plan: StreamPlan, first_frame: int, last_frame: int) -> list[Event]:
    pattern = plan.pattern
    first, last = _whole_beats(plan, first_frame, last_frame)
    # One pass more before: a lay-back can push its last stroke past the bar line.
    first_pass = max(0, first // pattern.beats - 1)
    last_pass = max(first_pass, (last - 1) // pattern.beats)
    if last <= 0:
        return []
    if plan.passes:
        last_pass = min(last_pass, plan.passes - 1)
    targets = lay_out(
        pattern, plan.timeline, passes=last_pass - first_pass + 1, first_pass=first_pass, feel=plan.feel
    )
    found = []
    for target in targets:
        stroke = target.stroke
        wanted = stroke.kind.sounds and (
            plan.settings.strokes or (plan.settings.left_hand and stroke.hand is Hand.LEFT)
        )
        frame = plan.frame_of(target.beat) + round(plan.feel.layback(stroke.kind) * plan.rate)
        if wanted and first_frame <= frame < last_frame:
            found.append(
                Event(frame=frame, samples=stroke_samples(stroke, plan.settings.stroke_db, plan.rate))
            )
    return found
