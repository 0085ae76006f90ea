"""Say what sounds when: a plan is a value, and its onsets are a pure function of it.

Frames of the stream count from its start; the stream frame of a beat is its frame in the timeline plus
``origin_frame``. So every click stands where exact arithmetic puts it, whenever it is asked for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Stroke
from trainer.music.timeline import Timeline, count_in_beats, slot_in_beat
from trainer.music.tuning import OPEN_G, Tuning
from trainer.sound.clicks import CLICK_S, Click, beat_click, clicks_per_beat
from trainer.sound.level import LEAST_DB
from trainer.sound.pluck import PLUCK_S, STRUM_S, Pluck, stroke_plucks

RATE = 48_000
LEAD_S = 0.6  # silence before the count-in, in which the clock line finds its place
LOUDEST_SETTING_DB = 0.0
_STRINGS = 5
_SPARE_BEATS = 2  # a lay-back and a brush move an onset by less than a beat at the fastest tempo


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundSettings:
    """What is heard and how loud, in dB below full scale.

    Attributes:
        click: whether the metronome sounds; the count-in always does.
        click_db, stroke_db: volumes, -60 to 0; a click is never louder than -3.
        subdivide: clicks between the beats too, where they help (clicks.clicks_per_beat).
        strokes: the whole figure is played (a demonstration).
        left_hand: strokes of the left hand are played, for an input that cannot hear them.
    """

    click: bool = True
    click_db: float = -9.0
    stroke_db: float = -12.0
    subdivide: bool = False
    strokes: bool = False
    left_hand: bool = True

    def __post_init__(self) -> None:
        """Refuse a volume that is none."""
        for name, level_db in (("click", self.click_db), ("stroke", self.stroke_db)):
            if not LEAST_DB <= level_db <= LOUDEST_SETTING_DB:
                raise BadSettings(
                    f"a {name} volume of {level_db:g} dB is outside {LEAST_DB:g} to {LOUDEST_SETTING_DB:g}",
                    "choose one inside",
                )

    def sounds(self, stroke: Stroke) -> bool:
        """Return whether the program plays this stroke itself."""
        return stroke.kind.sounds and (self.strokes or (self.left_hand and stroke.hand is Hand.LEFT))


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsSpan:
    """Settings that hold for everything that begins at ``from_frame`` or later."""

    from_frame: int
    settings: SoundSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamPlan:
    """One stream from its first frame to its end.

    Attributes:
        pattern, timeline, feel: what is played and when.
        passes: how often the pattern is played; 0 goes on without end.
        origin_frame: the stream frame of beat 0.
        spans: what is heard, ascending by frame; the first reaches back to the start.
        rate: frames a second.
        tuning: pitches of the strings.
    """

    pattern: Pattern
    timeline: Timeline
    passes: int
    origin_frame: int
    spans: tuple[SettingsSpan, ...]
    feel: Feel = NO_FEEL
    rate: int = RATE
    tuning: Tuning = OPEN_G

    @property
    def settings(self) -> SoundSettings:
        """The settings that hold in the end."""
        return self.spans[-1].settings

    @property
    def end_beat(self) -> Fraction | None:
        """The beat after which nothing begins to sound; None without end."""
        return Fraction(self.passes * self.pattern.beats) if self.passes else None

    def settings_at(self, frame: int) -> SoundSettings:
        """Return the settings for a sound that begins at a stream frame."""
        found = self.spans[0].settings
        for span in self.spans[1:]:
            if span.from_frame > frame:
                break
            found = span.settings
        return found

    def with_settings(self, settings: SoundSettings, *, from_frame: int) -> StreamPlan:
        """Return this plan with other settings from a frame on; what rings there rings on as it was."""
        kept = tuple(span for span in self.spans if span.from_frame < from_frame)
        return replace(self, spans=(*kept, SettingsSpan(from_frame=from_frame, settings=settings)))

    def forgetting(self, frame: int) -> StreamPlan:
        """Return this plan without the settings that were over before a frame."""
        over = sum(span.from_frame <= frame for span in self.spans[1:])
        return replace(self, spans=self.spans[over:])

    def with_timeline(self, timeline: Timeline) -> StreamPlan:
        """Return this plan with another timeline, such as one with a tempo change ahead."""
        return replace(self, timeline=timeline)

    def frame_of(self, beat: Fraction) -> int:
        """Return the stream frame of a beat."""
        return self.origin_frame + self.timeline.frame(beat, self.rate)

    def song_s(self, frame: float) -> float:
        """Return the second from beat 0 at a stream frame."""
        return (frame - self.origin_frame) / self.rate

    def frame_at(self, song_s: float) -> float:
        """Return the stream frame at a second from beat 0."""
        return song_s * self.rate + self.origin_frame


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickOnset:
    """A click, the stream frame of its first sample, and its volume."""

    frame: int
    click: Click
    gain_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckOnset:
    """A plucked string, the stream frame of its first sample, and its volume."""

    frame: int
    pluck: Pluck
    gain_db: float


def plan_for(
    pattern: Pattern,
    timeline: Timeline,
    *,
    passes: int,
    settings: SoundSettings,
    feel: Feel = NO_FEEL,
    rate: int = RATE,
    lead_s: float = LEAD_S,
    tuning: Tuning = OPEN_G,
) -> StreamPlan:
    """Return a plan with ``lead_s`` seconds of silence and the count-in before beat 0."""
    count_in = -timeline.frame(Fraction(-count_in_beats(pattern.meter)), rate)
    return StreamPlan(
        pattern=pattern,
        timeline=timeline,
        passes=passes,
        origin_frame=round(lead_s * rate) + count_in,
        spans=(SettingsSpan(from_frame=0, settings=settings),),
        feel=feel,
        rate=rate,
        tuning=tuning,
    )


def click_onsets(plan: StreamPlan, first_frame: int, last_frame: int) -> tuple[ClickOnset, ...]:
    """Return the clicks that begin at ``first_frame`` or later and before ``last_frame``, in order."""
    found = []
    slots = plan.pattern.slots_per_beat
    for beat in _beats(plan, first_frame, last_frame):
        for slot in range(slots if beat >= 0 else 1):
            place = slot_in_beat(slots, slot, plan.feel.swing) if slot else 0
            frame = plan.frame_of(Fraction(beat) + place)
            if not first_frame <= frame < last_frame:
                continue
            settings = plan.settings_at(frame)
            if _clicks(plan, settings, beat, slot):
                click = Click.SUBDIVISION if slot else beat_click(plan.pattern.meter, beat)
                found.append(ClickOnset(frame=frame, click=click, gain_db=settings.click_db))
    return tuple(found)


def pluck_onsets(plan: StreamPlan, first_frame: int, last_frame: int) -> tuple[PluckOnset, ...]:
    """Return the strings that begin at ``first_frame`` or later and before ``last_frame``, in order."""
    pattern = plan.pattern
    if not any(span.settings.strokes or span.settings.left_hand for span in plan.spans):
        return ()
    found = []
    slots = pattern.slots_per_beat
    for beat in _beats(plan, first_frame, last_frame):
        if beat < 0:
            continue
        bar, beat_in_bar = divmod(beat % pattern.beats, pattern.meter.beats)
        for slot in range(slots):
            stroke = pattern.bars[bar][beat_in_bar * slots + slot]
            if not any(span.settings.sounds(stroke) for span in plan.spans):
                continue
            at = plan.frame_of(beat + slot_in_beat(slots, slot, plan.feel.swing))
            at += round(plan.feel.layback(stroke.kind) * plan.rate)
            # Settings are looked up once a stroke, so that a brush is heard whole or not at all.
            settings = plan.settings_at(at)
            if not settings.sounds(stroke):
                continue
            for pluck in stroke_plucks(stroke, plan.tuning):
                frame = at + round(pluck.delay_s * plan.rate)
                if first_frame <= frame < last_frame:
                    gain_db = settings.stroke_db + pluck.gain_db
                    found.append(PluckOnset(frame=frame, pluck=pluck, gain_db=gain_db))
    return tuple(sorted(found, key=lambda onset: onset.frame))


def longest_frames(plan: StreamPlan) -> int:
    """Return how many frames the longest sound of a plan lasts, with what a brush adds."""
    rings = any(
        span.settings.strokes or (span.settings.left_hand and plan.pattern.has_left_hand)
        for span in plan.spans
    )
    return round((PLUCK_S + _STRINGS * STRUM_S if rings else CLICK_S) * plan.rate) + 1


def agree_before(one: StreamPlan, other: StreamPlan, frame: int) -> bool:
    """Return whether two plans sound the same up to a frame, so that one can take over there.

    Only what can still ring at the frame is compared: what is over cannot be heard any more.
    """
    if (one.rate, one.origin_frame) != (other.rate, other.origin_frame):
        return False
    since = frame - max(longest_frames(one), longest_frames(other))
    return click_onsets(one, since, frame) == click_onsets(other, since, frame) and pluck_onsets(
        one, since, frame
    ) == pluck_onsets(other, since, frame)


def _beats(plan: StreamPlan, first_frame: int, last_frame: int) -> Iterator[int]:
    """Give the whole beats that surely cover the frames; a few more at each end do no harm."""
    first = math.floor(plan.timeline.beat(plan.song_s(first_frame))) - _SPARE_BEATS
    last = math.ceil(plan.timeline.beat(plan.song_s(last_frame))) + _SPARE_BEATS
    first = max(first, -count_in_beats(plan.pattern.meter))
    if plan.end_beat is not None:
        last = min(last, int(plan.end_beat))
    return iter(range(first, last))


def _clicks(plan: StreamPlan, settings: SoundSettings, beat: int, slot: int) -> bool:
    if beat < 0:
        return True
    if not settings.click:
        return False
    if slot == 0:
        return True
    slots = plan.pattern.slots_per_beat
    bpm = plan.timeline.span_at(Fraction(beat)).bpm
    # The tempo is asked beat by beat: on the way up the subdivision falls silent where it stops helping.
    return settings.subdivide and slot % (slots // clicks_per_beat(bpm, slots)) == 0
