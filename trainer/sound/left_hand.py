"""Sound what the left hand does to a string that rings already: hammer-on, pull-off, slide.

None of them begins with a pluck's noise: the new note goes on with the period in which the string rings.
A hammer-on shortens the string and adds nothing; a pull-off plucks it a little on the way off; a slide
moves its pitch from the old fret to the new one, by the same number of cents in each millisecond, and sets
out so early that it arrives at its moment.
"""

from __future__ import annotations

import enum

import numpy as np

from trainer.music.before import frets_before
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind, Stroke
from trainer.music.tuning import Tuning, note_to_hz
from trainer.sound.string import PLUCK_S, Loop, faded, loop_for, run_loop, string_wave, with_knock
from trainer.sound.timbre import FINGER, Wave, timbre_burst

RINGING_S = 0.25  # how long the string has rung before; its brightness has gone by then
PULL_SHARE = 0.35  # of a pull-off's start that is a soft pluck
GLIDE_S = 0.060  # shorter than a slot at any tempo of a drill; common practice, no source
USUAL_FRETS = 2  # how far a hand comes from where nothing says


class Attack(enum.Enum):
    """How a string begins to sound."""

    PLUCKED = "plucked"
    HAMMERED = "hammered"
    PULLED = "pulled"
    SLID = "slid"
    SLID_INTO = "slid into"
    MUTED = "muted"


ATTACKS = {Kind.HAMMER_ON: Attack.HAMMERED, Kind.PULL_OFF: Attack.PULLED, Kind.SLIDE: Attack.SLID}


def attack_of(stroke: Stroke) -> Attack:
    """Return how a stroke's strings begin to sound."""
    if stroke.muted:
        return Attack.MUTED
    if stroke.slid_from is not None:
        return Attack.SLID_INTO
    return ATTACKS.get(stroke.kind, Attack.PLUCKED)


def lead_s(attack: Attack) -> float:
    """Return how long before its moment a note begins, in seconds: a slide is asked for where it arrives."""
    return GLIDE_S if attack is Attack.SLID else 0.0


def notes_before(pattern: Pattern, tuning: Tuning) -> tuple[tuple[int | None, ...], ...]:
    """Return the note that the string of each left-hand stroke had before it, by bar and slot.

    None where the stroke is no left-hand one (before.frets_before).
    """
    return tuple(
        tuple(
            None if fret is None else tuning.note(stroke.strings[0], fret)
            for stroke, fret in zip(bar, row, strict=True)
        )
        for bar, row in zip(pattern.bars, frets_before(pattern), strict=True)
    )


def usual_before(attack: Attack, note: int, before: int | None) -> int:
    """Return the note a string comes from; where none is known, or the same, two frets away."""
    if before is not None and before != note:
        return before
    return note + USUAL_FRETS if attack is Attack.PULLED else note - USUAL_FRETS


def left_hand_wave(attack: Attack, note: int, before: int, rate: int) -> Wave:
    """Return a note that begins without a pluck, with its peak at 1 or -1.

    Args:
        note: where the string arrives, MIDI.
        before: the note it had, MIDI.
        rate: frames a second.

    Returns:
        Shape (1.4 s * rate,).
    """
    loop = loop_for(note_to_hz(note), rate)
    start = _ringing_period(loop, before, rate)
    if attack is Attack.PULLED:
        pluck = timbre_burst(FINGER, loop.delay, rate)
        start = (1 - PULL_SHARE) * start + PULL_SHARE * pluck / np.abs(pluck).max()
    frames = round(PLUCK_S * rate)
    if attack is not Attack.SLID:
        return faded(run_loop(loop, start, frames), rate)
    positions = glide_positions(before, note, rate)
    last = int(positions[-1])
    wave = run_loop(loop, start, last + 3 + frames)
    # After the glide the positions are whole numbers one apart: the string itself, as well in tune as it is.
    rest = wave[last + 1 : last + 1 + frames - len(positions)]
    return faded(np.concatenate([_between(wave, positions), rest]), rate)


def slid_into_wave(note: int, before: int, rate: int) -> Wave:
    """Return a plucked note that is at its fret only when the left hand has slid there, its peak at 1 or -1.

    Args:
        note: where the string arrives, MIDI.
        before: the note at which it is plucked, MIDI.
        rate: frames a second.

    Returns:
        Shape (1.4 s * rate,).
    """
    positions = glide_positions(before, note, rate)
    last, frames = int(positions[-1]), round(PLUCK_S * rate)
    wave = string_wave(note_to_hz(note), rate, seconds=PLUCK_S + GLIDE_S)
    rest = wave[last + 1 : last + 1 + frames - len(positions)]
    return with_knock(np.concatenate([_between(wave, positions), rest]), rate)


def glide_positions(before: int, note: int, rate: int) -> Wave:
    """Return where in a steady note a glide to it stands, one place a frame; the last is a whole number.

    Reading the note faster or slower by r moves its pitch by r; r goes from 2**((before - note) / 12) to 1
    evenly in cents.
    """
    frames = round(GLIDE_S * rate)
    steps = 2.0 ** ((before - note) / 12.0 * (1.0 - np.arange(frames - 1) / (frames - 2)))
    positions = np.concatenate([[0.0], np.cumsum(steps)])
    return np.asarray(positions + (np.ceil(positions[-1]) - positions[-1]), dtype=np.float64)


def _ringing_period(loop: Loop, before: int, rate: int) -> Wave:
    """Return one period of the string as it rings, fitted to its new length, with its peak at 1 or -1."""
    old = loop_for(note_to_hz(before), rate).delay
    at = round(RINGING_S * rate)
    ringing = string_wave(note_to_hz(before), rate, seconds=RINGING_S + 0.1)[at : at + old]
    # It begins where it rises through zero, so that the start adds no edge.
    rises = np.flatnonzero((ringing[:-1] <= 0) & (ringing[1:] > 0))
    ringing = np.roll(ringing, -int(rises[0])) if len(rises) else ringing
    fitted = np.interp(np.arange(loop.delay) * old / loop.delay, np.arange(old), ringing, period=old)
    fitted -= fitted.mean()
    return np.asarray(fitted / np.abs(fitted).max(), dtype=np.float64)


def _between(wave: Wave, positions: Wave) -> Wave:
    """Read a wave between its frames, by the cubic through two neighbours on either side (Catmull-Rom)."""
    whole = np.floor(positions).astype(np.int64)
    t = positions - whole
    a, b, c, d = (wave[np.maximum(whole + k, 0)] for k in (-1, 0, 1, 2))
    found = b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))
    return np.asarray(found, dtype=np.float64)
