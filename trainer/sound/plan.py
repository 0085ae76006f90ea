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
from trainer.music.keys import pitch_class
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Stroke
from trainer.music.timeline import Timeline, count_in_beats, slot_in_beat
from trainer.music.tuning import Tuning
from trainer.sound.backing import Backing
from trainer.sound.band import BandPart, BandScore, band_score
from trainer.sound.band_voices import BASS_S
from trainer.sound.clicks import CLICK_S, Click, ClickVoice, beat_click, clicks_per_beat
from trainer.sound.gain import LEAST_DB
from trainer.sound.left_hand import notes_before
from trainer.sound.pluck import STRUM_S, Pluck, stroke_plucks, struck
from trainer.sound.string import PLUCK_S
from trainer.sound.thinning import EVERY_BEAT, Thinning
from trainer.sound.volumes import FIRST_BAND_VOLUME, FIRST_VOLUME, band_volume_db, volume_db

RATE = 48_000
LEAD_S = 0.6  # silence before the count-in, in which the clock line finds its way
LOUDEST_SETTING_DB = 0.0
_STRINGS = 5
_SPARE_BEATS = 2  # a lay-back and a brush move an onset by less than a beat at the fastest tempo


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundSettings:
    """What is heard and how loud, in dB below full scale.

    Attributes:
        click: whether the metronome sounds; the count-in always does.
        click_voice: what the clicks are made of.
        click_db, stroke_db, band_db, backing_db: volumes, -60 to 0; a click is never louder than -3.
        subdivide: clicks between the beats too, where they help (clicks.clicks_per_beat).
        thinning: which clicks are left out.
        count_in: whether the count-in clicks; only a track that is just listened to has none.
        strokes: the whole figure is played (a demonstration).
        left_hand: strokes of the left hand are played, for an input that cannot hear them.
        pickup: what leads into the first pass is played, in the count-in, where nobody is asked for it.
        band: a band plays, where the pattern has a chart; ``band_parts`` says who of it.
        backing: the backing track is heard, where the plan has one.
        click_pan, stroke_pan, band_pan: where each is heard, from -1, left, to 1, right; wherever that
            is, both channels together are the same.
    """

    click: bool = True
    click_voice: ClickVoice = ClickVoice.WOOD
    click_db: float = volume_db(FIRST_VOLUME)
    stroke_db: float = volume_db(FIRST_VOLUME)
    subdivide: bool = False
    thinning: Thinning = EVERY_BEAT
    count_in: bool = True
    strokes: bool = False
    left_hand: bool = True
    pickup: bool = False
    band: bool = False
    band_parts: frozenset[BandPart] = frozenset(BandPart)
    band_db: float = band_volume_db(FIRST_BAND_VOLUME)
    backing: bool = True
    backing_db: float = -9.0
    click_pan: float = 0.0
    stroke_pan: float = -0.2
    band_pan: float = 0.2

    def __post_init__(self) -> None:
        """Refuse a volume or a pan that is none."""
        volumes = (
            ("click", self.click_db),
            ("stroke", self.stroke_db),
            ("band", self.band_db),
            ("track", self.backing_db),
        )
        for name, gain_db in volumes:
            if not LEAST_DB <= gain_db <= LOUDEST_SETTING_DB:
                raise BadSettings(
                    f"a {name} volume of {gain_db:g} dB is outside {LEAST_DB:g} to {LOUDEST_SETTING_DB:g}",
                    "choose one inside",
                )
        for pan in (self.click_pan, self.stroke_pan, self.band_pan):
            if not -1.0 <= pan <= 1.0:
                raise BadSettings(f"a pan of {pan:g} is outside -1, left, to 1, right", "choose one inside")

    @property
    def clicks_between(self) -> bool:
        """Whether anything may click between the beats."""
        return self.click and (self.subdivide or self.thinning.is_between)

    def sounds(self, stroke: Stroke, *, in_count_in: bool = False) -> bool:
        """Return whether the program plays this stroke itself."""
        by_itself = self.strokes or (self.pickup and in_count_in)
        return stroke.kind.sounds and (by_itself or (self.left_hand and stroke.hand is Hand.LEFT))

    def may_pluck(self, pattern: Pattern) -> bool:
        """Return whether the program plays any stroke of a pattern itself."""
        return (
            self.strokes or (self.left_hand and pattern.has_left_hand) or (self.pickup and pattern.pickup > 0)
        )


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
        before: the note from which each left-hand stroke comes, by bar and slot (left_hand.notes_before).
        band: what the band plays in each beat of a pass; empty without a chart.
        backing: the player's own track; None without one.
    """

    pattern: Pattern
    timeline: Timeline
    passes: int
    origin_frame: int
    spans: tuple[SettingsSpan, ...]
    feel: Feel
    rate: int
    tuning: Tuning
    before: tuple[tuple[int | None, ...], ...]
    band: BandScore = ()
    backing: Backing | None = None

    @property
    def settings(self) -> SoundSettings:
        """The settings that hold in the end."""
        return self.spans[-1].settings

    @property
    def end_beat(self) -> Fraction | None:
        """The beat after which nothing begins to sound; None without end."""
        return Fraction(self.passes * self.pattern.beats) if self.passes else None

    @property
    def backing_end_frame(self) -> int | None:
        """The stream frame at which the backing track begins to leave; None while it plays to its own end."""
        if self.backing is not None and self.backing.bpm != self.timeline.spans[0].bpm:
            return 0  # another tempo from the first beat on: no note of it would fit
        ends = [self.frame_of(span.start_beat) for span in self.timeline.spans[1:2]]
        if self.end_beat is not None:
            ends.append(self.frame_of(self.end_beat))
        return min(ends) if ends else None

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
    """A click, the stream frame of its first sample, its volume, what it is made of, and its pan."""

    frame: int
    click: Click
    gain_db: float
    voice: ClickVoice
    pan: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BandOnset:
    """Something the band plays, the stream frame of its first sample, its volume, and its pan."""

    frame: int
    part: BandPart
    notes: tuple[int, ...]
    gain_db: float
    pan: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckOnset:
    """A plucked string, the stream frame of its first sample, its volume, and its pan."""

    frame: int
    pluck: Pluck
    gain_db: float
    pan: float


def plan_for(
    pattern: Pattern,
    timeline: Timeline,
    *,
    passes: int,
    settings: SoundSettings,
    feel: Feel = NO_FEEL,
    rate: int = RATE,
    lead_s: float = LEAD_S,
    backing: Backing | None = None,
) -> StreamPlan:
    """Return a plan with ``lead_s`` seconds of silence and the count-in before beat 0.

    Raises:
        BadSettings: a backing track of another tempo than the timeline's.
        ValueError: a backing track of another rate.
    """
    if backing is not None:
        backing.check(bpm=timeline.spans[0].bpm, rate=rate)
    tuning, chart = pattern.tuning, pattern.chart
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
        before=notes_before(pattern, tuning),
        band=band_score(chart, pitch_class(chart.key), pattern.meter, pattern.slots_per_beat)
        if chart is not None
        else (),
        backing=backing,
    )


def click_onsets(plan: StreamPlan, first_frame: int, last_frame: int) -> tuple[ClickOnset, ...]:
    """Return the clicks that begin at ``first_frame`` or later and before ``last_frame``, in order."""
    found = []
    offsets = _offsets(plan)
    # Between the beats nothing clicks unless the settings say so, and exact frames cost.
    between = any(span.settings.clicks_between for span in plan.spans)
    for beat in _beats(plan, first_frame, last_frame):
        for slot in range(len(offsets) if between and beat >= 0 else 1):
            frame = plan.frame_of(beat + offsets[slot])
            if not first_frame <= frame < last_frame:
                continue
            settings = plan.settings_at(frame)
            if _clicks(plan, settings, beat, slot):
                click = _click_of(plan, settings, beat, slot)
                found.append(
                    ClickOnset(
                        frame=frame,
                        click=click,
                        gain_db=settings.click_db,
                        voice=settings.click_voice,
                        pan=settings.click_pan,
                    )
                )
    return tuple(found)


def pluck_onsets(plan: StreamPlan, first_frame: int, last_frame: int) -> tuple[PluckOnset, ...]:
    """Return the strings that begin at ``first_frame`` or later and before ``last_frame``, in order."""
    pattern = plan.pattern
    if not any(span.settings.may_pluck(pattern) for span in plan.spans):
        return ()
    found = []
    slots, offsets = pattern.slots_per_beat, _offsets(plan)
    # What leads into the first pass lies in the count-in.
    pickup_from = Fraction(-pattern.pickup, slots)
    for beat in _beats(plan, first_frame, last_frame):
        bar, beat_in_bar = divmod(beat % pattern.beats, pattern.meter.beats)
        for slot in range(slots):
            if beat < 0 and beat + Fraction(slot, slots) < pickup_from:
                continue
            stroke = pattern.bars[bar][beat_in_bar * slots + slot]
            if not any(span.settings.sounds(stroke, in_count_in=beat < 0) for span in plan.spans):
                continue
            at = plan.frame_of(beat + offsets[slot])
            at += round(plan.feel.layback(stroke.kind) * plan.rate)
            before = plan.before[bar][beat_in_bar * slots + slot]
            plucks = stroke_plucks(stroke, plan.tuning, before)
            if plucks[0].delay_s < 0 and slot == 0 and _is_hushed(plan, plan.settings_at(at), beat - 1):
                # A slide would tell, in a silent bar, when the next one begins: it comes without its way.
                plucks = (struck(plucks[0]), *plucks[1:])
            # Settings are looked up once a stroke, where it sets out: a brush is heard whole or not at all.
            settings = plan.settings_at(at + round(plucks[0].delay_s * plan.rate))
            if not settings.sounds(stroke, in_count_in=beat < 0) or _is_hushed(plan, settings, beat):
                continue
            for pluck in plucks:
                frame = at + round(pluck.delay_s * plan.rate)
                if pluck.after_beats:
                    frame += plan.frame_of(beat + offsets[slot] + pluck.after_beats)
                    frame -= plan.frame_of(beat + offsets[slot])
                if first_frame <= frame < last_frame:
                    gain_db = settings.stroke_db + pluck.gain_db
                    found.append(
                        PluckOnset(frame=frame, pluck=pluck, gain_db=gain_db, pan=settings.stroke_pan)
                    )
    return tuple(sorted(found, key=lambda onset: onset.frame))


def band_onsets(plan: StreamPlan, first_frame: int, last_frame: int) -> tuple[BandOnset, ...]:
    """Return what the band begins to play at ``first_frame`` or later and before ``last_frame``, in order.

    Nothing in the count-in, in silent bars, and without a chart.
    """
    if not plan.band or not any(span.settings.band for span in plan.spans):
        return ()
    found = []
    offsets = _offsets(plan)
    for beat in _beats(plan, first_frame, last_frame):
        if beat < 0:
            continue
        notes = plan.band[beat % len(plan.band)]
        frames = {slot: plan.frame_of(beat + offsets[slot]) for slot in {note.slot for note in notes}}
        for note in notes:
            frame = frames[note.slot]
            if not first_frame <= frame < last_frame:
                continue
            settings = plan.settings_at(frame)
            if settings.band and note.part in settings.band_parts and not _is_hushed(plan, settings, beat):
                gain_db = settings.band_db + note.gain_db
                found.append(
                    BandOnset(
                        frame=frame,
                        part=note.part,
                        notes=note.notes,
                        gain_db=gain_db,
                        pan=settings.band_pan,
                    )
                )
    return tuple(found)


def longest_frames(plan: StreamPlan) -> int:
    """Return how many frames the longest sound of a plan lasts, with what a brush adds."""
    rings = any(span.settings.may_pluck(plan.pattern) for span in plan.spans)
    longest_s = PLUCK_S + _STRINGS * STRUM_S if rings else CLICK_S
    if plan.band and any(span.settings.band for span in plan.spans):
        longest_s = max(longest_s, BASS_S)
    return round(longest_s * plan.rate) + 1


def agree_before(one: StreamPlan, other: StreamPlan, frame: int) -> bool:
    """Return whether two plans sound the same up to a frame, so that one can take over there.

    Only what can still ring at the frame is compared: what is over cannot be heard any more.
    """
    if (one.rate, one.origin_frame, one.backing) != (other.rate, other.origin_frame, other.backing):
        return False
    since = frame - max(longest_frames(one), longest_frames(other))
    return all(
        onsets(one, since, frame) == onsets(other, since, frame)
        for onsets in (click_onsets, pluck_onsets, band_onsets)
    )


def _offsets(plan: StreamPlan) -> tuple[Fraction, ...]:
    """Return where each slot lies inside its beat."""
    slots = plan.pattern.slots_per_beat
    return tuple(slot_in_beat(slots, slot, plan.feel.swing) for slot in range(slots))


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
        return settings.count_in
    if not settings.click:
        return False
    thinned = settings.thinning.clicks(plan.pattern.meter, plan.pattern.motion, beat, slot)
    if thinned is not None:
        return thinned
    if slot == 0:
        return True
    slots = plan.pattern.slots_per_beat
    bpm = plan.timeline.span_at(Fraction(beat)).bpm
    # The tempo is asked beat by beat: on the way up the subdivision falls silent where it stops helping.
    return settings.subdivide and slot % (slots // clicks_per_beat(bpm, slots)) == 0


def _click_of(plan: StreamPlan, settings: SoundSettings, beat: int, slot: int) -> Click:
    if slot == 0:
        return beat_click(plan.pattern.meter, beat)
    return Click.BEAT if settings.thinning.is_between else Click.SUBDIVISION


def _is_hushed(plan: StreamPlan, settings: SoundSettings, beat: int) -> bool:
    """Return whether a beat lies in a bar in which the player keeps time alone; a demonstration has none."""
    return not settings.strokes and settings.thinning.is_silent(beat // plan.pattern.meter.beats)
