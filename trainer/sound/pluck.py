"""Say which strings a stroke sounds, and give each its samples; they are made once and kept."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

import numpy as np

from trainer.music.strokes import Hand, Kind, Stroke, left_hand_kind
from trainer.music.tuning import OPEN_G, Tuning, note_to_hz
from trainer.sound.gain import MARGIN, PAN_STEPS, TAP_CEILING, Samples, limited, to_samples
from trainer.sound.left_hand import (
    ATTACKS,
    Attack,
    attack_of,
    lead_s,
    left_hand_wave,
    slid_into_wave,
    usual_before,
)
from trainer.sound.string import PLUCK_S, banjo_wave, muted_wave, string_wave
from trainer.sound.timbre import FINGER, Wave

TOUCH_T60_S = 0.09
TOUCH_NOTE = 50  # the lowest string
TOUCH_DB = -4.0
STRUM_S = 0.009  # between the strings of a brush
BRUSH_DB = -3.0  # each string of a brush, so that three are not three times as loud as one
LEFT_HAND_DB = -5.0  # a string sounded by the left hand alone is softer
ACCENT_DB = 3.0
AT_ONCE = Fraction(0)
USUAL_BEAT_S = 0.6  # in which a tapped triplet is played, where no tempo is known


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
        before: the note that the string comes from, where the left hand moves it; else None.
        after_beats: how much later in beats, besides: the notes of a triplet part a beat.
    """

    delay_s: float
    string: int
    note: int
    gain_db: float
    attack: Attack = Attack.PLUCKED
    before: int | None = None
    after_beats: Fraction = AT_ONCE


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
    if attack is Attack.MUTED:
        return muted_wave(note_to_hz(note), rate)
    if attack is Attack.SLID_INTO:
        return slid_into_wave(note, usual_before(attack, note, before), rate)
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
    if stroke.slid_from is not None:
        before = tuning.note(stroke.strings[0], stroke.slid_from)
    moved = left or stroke.slid_from is not None
    first = tuple(
        Pluck(
            delay_s=n * STRUM_S - lead_s(attack),
            string=string,
            note=note,
            gain_db=gain_db,
            attack=attack,
            before=usual_before(attack, note, before) if moved else None,
        )
        for n, (string, note) in enumerate(zip(stroke.strings, tuning.stroke_notes(stroke), strict=True))
    )
    return (*first, *_triplet(stroke, tuning, gain_db)) if stroke.triplet else first


def struck(pluck: Pluck) -> Pluck:
    """Return a pluck at its moment, as a finger sounds it, whatever leads into it."""
    return replace(pluck, delay_s=0.0, attack=Attack.PLUCKED, before=None)


def _triplet(stroke: Stroke, tuning: Tuning, gain_db: float) -> tuple[Pluck, ...]:
    """Return the two notes that follow the first of a triplet within its beat."""
    string = stroke.strings[0]
    found = []
    for n, (before, fret) in enumerate(pairwise((stroke.fret or 0, *stroke.triplet)), 1):
        found.append(
            Pluck(
                delay_s=0.0,
                string=string,
                note=tuning.note(string, fret),
                gain_db=gain_db + LEFT_HAND_DB,
                attack=ATTACKS[left_hand_kind(before, fret)],
                before=tuning.note(string, before),
                after_beats=Fraction(n, 1 + len(stroke.triplet)),
            )
        )
    return tuple(found)


@lru_cache(maxsize=256)
def stroke_samples(
    stroke: Stroke,
    gain_db: float,
    rate: int,
    tuning: Tuning = OPEN_G,
    before: int | None = None,
    *,
    beat_s: float = USUAL_BEAT_S,
) -> Samples:
    """Return what a stroke sounds like as one sound, read-only; no frames for a skip or a rest.

    Args:
        beat_s: length of a beat in seconds, by which the notes of a triplet follow one another.
    """
    plucks = stroke_plucks(stroke, tuning, before)
    if not plucks:
        return to_samples(np.zeros(0), 0.0)
    # A tap sounds at once, so a tapped slide sets out with it.
    starts = [
        round((pluck.delay_s - plucks[0].delay_s + float(pluck.after_beats) * beat_s) * rate)
        for pluck in plucks
    ]
    mix = np.zeros((round(PLUCK_S * rate) + starts[-1] + 2 * MARGIN, 1), dtype=np.int64)
    for at, (start, pluck) in enumerate(zip(starts, plucks, strict=True)):
        samples = pluck_samples(pluck, gain_db + pluck.gain_db, rate)
        if any(later.string == pluck.string for later in plucks[at + 1 :]):
            samples = samples[: starts[at + 1] - start]  # the left hand makes the same string another note
        mix[MARGIN + start : MARGIN + start + len(samples), 0] += samples
    out = limited(mix * PAN_STEPS, ceiling=TAP_CEILING)[:, 0]
    out.flags.writeable = False
    return out
