"""Say which strings a stroke sounds, and give each its samples; they are made once and kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trainer.music.strokes import Hand, Kind, Stroke
from trainer.music.tuning import OPEN_G, Tuning, note_to_hz
from trainer.sound.left_hand import Attack, attack_of, lead_s, left_hand_wave, usual_before
from trainer.sound.level import MARGIN, PLACE_STEPS, TAP_CEILING, Samples, limited, to_samples
from trainer.sound.string import PLUCK_S, banjo_wave, string_wave
from trainer.sound.timbre import FINGER, Wave

TOUCH_T60_S = 0.09
TOUCH_NOTE = 50  # the lowest string
TOUCH_DB = -4.0
STRUM_S = 0.009  # between the strings of a brush
BRUSH_DB = -3.0  # each string of a brush, so that three are not three times as loud as one
LEFT_HAND_DB = -5.0  # a string sounded by the left hand alone is softer
ACCENT_DB = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pluck:
    """One string sounded once.

    Attributes:
        delay_s: how long after the stroke's own moment: the strings of a brush follow one another. A slide
            sets out before it, so its delay is negative.
        string: 1 to 5; a string that is sounded again stops sounding as before.
        note: MIDI note.
        gain_db: loudness beside a plain strike.
        attack: how it begins.
        before: the note that the string comes from, where the attack is the left hand's; else None.
    """

    delay_s: float
    string: int
    note: int
    gain_db: float
    attack: Attack = Attack.PLUCKED
    before: int | None = None


@lru_cache(maxsize=512)
def note_samples(
    note: int, gain_db: float, rate: int, *, attack: Attack = Attack.PLUCKED, before: int | None = None
) -> Samples:
    """Return one MIDI note of a string as samples, read-only; costs milliseconds the first time."""
    return to_samples(_note_wave(note, rate, attack, before), gain_db)


def pluck_samples(pluck: Pluck, gain_db: float, rate: int) -> Samples:
    """Return the samples of a sounded string at a volume, its own loudness left to the caller."""
    return note_samples(pluck.note, gain_db, rate, attack=pluck.attack, before=pluck.before)


@lru_cache(maxsize=128)
def _note_wave(note: int, rate: int, attack: Attack, before: int | None) -> Wave:
    # Kept apart from the samples, so that another volume costs no other string.
    if attack is Attack.PLUCKED:
        return banjo_wave(note_to_hz(note), rate)
    return left_hand_wave(attack, note, usual_before(attack, note, before), rate)


@lru_cache(maxsize=16)
def touch_samples(gain_db: float, rate: int) -> Samples:
    """Return the short dull knock of a string touched where it should not have been, read-only."""
    wave = string_wave(
        note_to_hz(TOUCH_NOTE), rate, seconds=2 * TOUCH_T60_S, t60_s=TOUCH_T60_S, timbre=FINGER
    )
    return to_samples(wave, gain_db + TOUCH_DB)


def stroke_plucks(stroke: Stroke, tuning: Tuning = OPEN_G, before: int | None = None) -> tuple[Pluck, ...]:
    """Return the strings that a stroke sounds, in their order; none for a skip or a rest.

    A brush lets its strings follow one another by 9 ms, the first at once.

    Args:
        before: the note that the string had, for a stroke of the left hand (left_hand.notes_before).
    """
    left = stroke.hand is Hand.LEFT
    gain_db = LEFT_HAND_DB if left else 0.0
    if stroke.accented:
        gain_db += ACCENT_DB
    if stroke.kind is Kind.BRUSH:
        gain_db += BRUSH_DB
    attack = attack_of(stroke)
    return tuple(
        Pluck(
            delay_s=n * STRUM_S - lead_s(attack),
            string=string,
            note=note,
            gain_db=gain_db,
            attack=attack,
            before=usual_before(attack, note, before) if left else None,
        )
        for n, (string, note) in enumerate(zip(stroke.strings, tuning.stroke_notes(stroke), strict=True))
    )


@lru_cache(maxsize=256)
def stroke_samples(
    stroke: Stroke, gain_db: float, rate: int, tuning: Tuning = OPEN_G, before: int | None = None
) -> Samples:
    """Return what a stroke sounds like as one sound, read-only; no frames for a skip or a rest."""
    plucks = stroke_plucks(stroke, tuning, before)
    if not plucks:
        return to_samples(np.zeros(0), 0.0)
    # A tap sounds at once, so a tapped slide sets out with it.
    starts = [round((pluck.delay_s - plucks[0].delay_s) * rate) for pluck in plucks]
    mix = np.zeros((round(PLUCK_S * rate) + starts[-1] + 2 * MARGIN, 1), dtype=np.int64)
    for start, pluck in zip(starts, plucks, strict=True):
        samples = pluck_samples(pluck, gain_db + pluck.gain_db, rate)
        mix[MARGIN + start : MARGIN + start + len(samples), 0] += samples
    out = limited(mix * PLACE_STEPS, ceiling=TAP_CEILING)[:, 0]
    out.flags.writeable = False
    return out
