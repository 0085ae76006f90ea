"""Say which sound of a stream begins at which frame: clicks, plucked strings and the band."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.timeline import count_in_beats, slot_in_beat
from trainer.sound.band import BandPart
from trainer.sound.band_voices import BASS_S
from trainer.sound.clicks import CLICK_S, Click, ClickVoice, beat_click, clicks_per_beat
from trainer.sound.plan import SoundSettings, StreamPlan
from trainer.sound.pluck import STRUM_S, Pluck, stroke_plucks, struck
from trainer.sound.string import PLUCK_S

_STRINGS = 5
_SPARE_BEATS = 2  # a lay-back and a brush move an onset by less than a beat at the fastest tempo


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
