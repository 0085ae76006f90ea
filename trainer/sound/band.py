"""Let a small band play the chords: a bass, a short chord off the beat, and a light drum of noise.

What it plays is laid out once for a pass, by beat and slot, so it falls on the very frames of the clicks.
The bass has the root of the chord and its fifth in turn, the chord answers it between the beats (in 2/4
and 6/8) or on the beats between (in 3/4 and 4/4): common practice, no source. Wherever the chord changes
the bass goes to the new root.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trainer.music.chart import Chart, Chord
from trainer.music.pattern import Meter
from trainer.music.tuning import note_to_hz
from trainer.sound.level import Samples, to_samples
from trainer.sound.string import Wave, faded, string_wave

BASS_S, BASS_T60_S = 1.0, 1.1
CHOP_S, CHOP_T60_S = 0.20, 0.16
CHOP_STRUM_S = 0.004
DRUM_S, DRUM_DECAY_S = 0.12, {False: 0.030, True: 0.018}
LOWEST_BASS = 31  # G1; the root lies within the octave above it
LOWEST_FIFTH = 28  # E1, a bass's lowest string
LOWEST_CHOP = 55  # G3; the chord's notes lie within the octave above it
BASS_DB, CHOP_DB, DRUM_DB, BRUSH_DB = 0.0, -3.0, -10.0, -12.0  # beside the band's own volume
FIRST_BEAT_DB = 1.5
_SEED = 1961


class Part(enum.Enum):
    """Who plays."""

    BASS = "bass"
    CHOP = "chop"
    DRUM = "drum"
    BRUSH = "brush"


LEVELS = {Part.BASS: BASS_DB, Part.CHOP: CHOP_DB, Part.DRUM: DRUM_DB, Part.BRUSH: BRUSH_DB}


@dataclass(frozen=True, slots=True, kw_only=True)
class BandNote:
    """One thing that the band plays.

    Attributes:
        slot: slot in its beat.
        part: who plays it.
        notes: MIDI notes, none for the drum.
        gain_db: loudness beside the band's own volume.
    """

    slot: int
    part: Part
    notes: tuple[int, ...]
    gain_db: float


BandScore = tuple[tuple[BandNote, ...], ...]
"""What the band plays in each beat of a pass."""


def band_score(chart: Chart, key: int, meter: Meter, slots_per_beat: int) -> BandScore:
    """Return what a band plays over a chart, beat by beat.

    Args:
        key: pitch class of the note called 1, 0 for C to 11 for B.
    """
    starts = frozenset(chart.starts)
    return tuple(
        tuple(_beat(chart, key, meter, _offbeat_slot(slots_per_beat), beat, starts))
        for beat in range(chart.beats)
    )


def bass_root(chord: Chord, key: int) -> int:
    """Return the MIDI note of a chord's root in the bass, G1 to F#2."""
    return LOWEST_BASS + (key + chord.root - LOWEST_BASS) % 12


def bass_fifth(chord: Chord, key: int) -> int:
    """Return the MIDI note of a chord's fifth in the bass: below the root where a bass has it, else above."""
    root, up = bass_root(chord, key), chord.intervals[2]
    return root + up - 12 if root + up - 12 >= LOWEST_FIFTH else root + up


def chop_notes(chord: Chord, key: int) -> tuple[int, ...]:
    """Return the MIDI notes of a chord as it is chopped, ascending, within an octave above G3."""
    return tuple(sorted(LOWEST_CHOP + (key + chord.root + up - LOWEST_CHOP) % 12 for up in chord.intervals))


def _offbeat_slot(slots_per_beat: int) -> int:
    """Return the slot between two beats: the middle one, and the last of three."""
    return 2 if slots_per_beat == 3 else slots_per_beat // 2


def _beat(
    chart: Chart, key: int, meter: Meter, offbeat: int, beat: int, starts: frozenset[int]
) -> list[BandNote]:
    chord = chart.chord_at(beat)
    place = beat % meter.beats
    changes = beat in starts
    answers_on_beat = meter in (Meter.THREE_FOUR, Meter.FOUR_FOUR)
    is_chop = answers_on_beat and (place > 0 if meter is Meter.THREE_FOUR else place % 2 == 1)
    accent_db = FIRST_BEAT_DB if place == 0 else 0.0
    found = []
    if changes or not is_chop:
        note = bass_root(chord, key)
        if not changes and _is_fifth(meter, beat, chart):
            note = bass_fifth(chord, key)
        found.append(_note(0, Part.BASS, (note,), accent_db))
    if is_chop:
        found += [_note(0, Part.CHOP, chop_notes(chord, key)), _note(0, Part.BRUSH, ())]
    else:
        found.append(_note(0, Part.DRUM, (), accent_db))
    if not answers_on_beat:
        found += [_note(offbeat, Part.CHOP, chop_notes(chord, key)), _note(offbeat, Part.BRUSH, ())]
    return found


def _is_fifth(meter: Meter, beat: int, chart: Chart) -> bool:
    if meter is Meter.THREE_FOUR:
        # One bass note a bar: root and fifth take turns, counted from where the chord began.
        since = beat - chart.starts[chart.span_index(beat)]
        return -(-since // meter.beats) % 2 == 1
    return beat % meter.beats > 0


def _note(slot: int, part: Part, notes: tuple[int, ...], more_db: float = 0.0) -> BandNote:
    return BandNote(slot=slot, part=part, notes=notes, gain_db=LEVELS[part] + more_db)


@lru_cache(maxsize=256)
def band_samples(part: Part, notes: tuple[int, ...], gain_db: float, rate: int) -> Samples:
    """Return what a part of the band sounds like, read-only; its first frame is not zero."""
    samples = to_samples(_wave(part, notes, rate), gain_db).copy()
    if samples[0] == 0:
        samples[0] = 1  # an onset is where its first frame is
    samples.flags.writeable = False
    return samples


@lru_cache(maxsize=64)
def _wave(part: Part, notes: tuple[int, ...], rate: int) -> Wave:
    if part is Part.BASS:
        return string_wave(note_to_hz(notes[0]), rate, seconds=BASS_S, t60_s=BASS_T60_S, soft=True)
    if part is Part.CHOP:
        return _chop(notes, rate)
    return _drum(rate, bright=part is Part.BRUSH)


def _chop(notes: tuple[int, ...], rate: int) -> Wave:
    mix = np.zeros(round(CHOP_S * rate))
    for n, note in enumerate(notes):
        start = round(n * CHOP_STRUM_S * rate)
        wave = string_wave(note_to_hz(note), rate, seconds=CHOP_S, t60_s=CHOP_T60_S)
        mix[start:] += wave[: len(mix) - start]
    return faded(mix, rate)


def _drum(rate: int, *, bright: bool) -> Wave:
    t = np.arange(round(DRUM_S * rate)) / rate
    noise = np.random.default_rng(_SEED).uniform(-1, 1, len(t))
    if bright:
        shaped = np.diff(noise, prepend=0.0)  # rises by 6 dB an octave
    else:
        shaped = np.convolve(noise, np.hanning(round(0.002 * rate)))[: len(t)]  # little above 1 kHz
    return faded(shaped * np.exp(-t / DRUM_DECAY_S[bright]), rate)
