"""Let a small band play the chords: a bass, a short chord off the beat, and a light drum of noise.

What it plays is laid out once for a pass, by beat and slot, so it falls on the very frames of the clicks.
The bass has the root of the chord and its fifth in turn, and the chord answers it: on the beats between
where a figure takes two beats (2/4 in two slots: the bass is where the nail strikes, the chord where it
brushes) and in 3/4 and 4/4, else between the beats. All of it common practice, no source. Wherever the
chord changes the bass goes to the new root.
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from trainer.music.chart import Chart, Chord
from trainer.music.pattern import Meter
from trainer.sound.band_voices import bass_wave, brush_wave, chop_wave, drum_wave
from trainer.sound.gain import Samples, to_samples
from trainer.sound.thinning import halfway_slot
from trainer.sound.timbre import Wave

LOWEST_BASS = 31  # G1; the root lies within the octave above it
LOWEST_FIFTH = 28  # E1, a bass's lowest string
LOWEST_CHOP = 55  # G3; the chord's notes lie within the octave above it
BASS_DB, CHOP_DB, DRUM_DB, BRUSH_DB = -1.5, 0.0, -5.5, -6.0  # beside the band's own volume
FIRST_BEAT_DB = 1.5


class BandPart(enum.Enum):
    """Who plays."""

    BASS = "bass"
    CHOP = "chop"
    DRUM = "drum"
    BRUSH = "brush"


GAINS_DB = {BandPart.BASS: BASS_DB, BandPart.CHOP: CHOP_DB, BandPart.DRUM: DRUM_DB, BandPart.BRUSH: BRUSH_DB}


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
    part: BandPart
    notes: tuple[int, ...]
    gain_db: float


BandScore = tuple[tuple[BandNote, ...], ...]
"""What the band plays in each beat of a pass."""


def band_score(chart: Chart, key: int, meter: Meter, slots_per_beat: int) -> BandScore:
    """Return what a band plays over a chart, beat by beat.

    Args:
        key: pitch class of the note called 1, 0 for C to 11 for B.
    """
    offbeat = None if _answers_on_beats(meter, slots_per_beat) else halfway_slot(slots_per_beat)
    return tuple(
        tuple(_beat(chart, key, meter, slots_per_beat, offbeat, beat)) for beat in range(chart.beats)
    )


def bass_root(chord: Chord, key: int) -> int:
    """Return the MIDI note of a chord's root in the bass, or of the bass it names, G1 to F#2."""
    return LOWEST_BASS + (key + chord.lowest - LOWEST_BASS) % 12


def bass_fifth(chord: Chord, key: int) -> int:
    """Return the MIDI note of a chord's fifth in the bass: below the root where a bass has it, else above.

    A chord that names its bass has that one alone.
    """
    if chord.bass is not None:
        return bass_root(chord, key)
    root, up = bass_root(chord, key), chord.intervals[2]
    return root + up - 12 if root + up - 12 >= LOWEST_FIFTH else root + up


def chop_notes(chord: Chord, key: int) -> tuple[int, ...]:
    """Return the MIDI notes of a chord as it is chopped, ascending, within an octave above G3."""
    return tuple(sorted(LOWEST_CHOP + (key + chord.root + up - LOWEST_CHOP) % 12 for up in chord.intervals))


def _answers_on_beats(meter: Meter, slots_per_beat: int) -> bool:
    """Return whether the chord has beats of its own: in 2/4 where a beat has no room for it."""
    return meter in (Meter.THREE_FOUR, Meter.FOUR_FOUR) or (meter is Meter.TWO_FOUR and slots_per_beat == 2)


def _beat(
    chart: Chart, key: int, meter: Meter, slots_per_beat: int, offbeat: int | None, beat: int
) -> list[BandNote]:
    beat_in_bar = beat % meter.beats
    is_chop = offbeat is None and (beat_in_bar > 0 if meter is Meter.THREE_FOUR else beat_in_bar % 2 == 1)
    accent_db = FIRST_BEAT_DB if beat_in_bar == 0 else 0.0
    found = []
    for slot in range(slots_per_beat):
        at = beat + Fraction(slot, slots_per_beat)
        chord, changes = chart.chord_at(at), at in chart.starts
        plays_bass = changes or (slot == 0 and not is_chop)
        if plays_bass and not chord.silent:
            fifth = not changes and _is_fifth(meter, beat, chart, one_a_bar=offbeat is None)
            note = bass_fifth(chord, key) if fifth else bass_root(chord, key)
            found.append(_note(slot, BandPart.BASS, (note,), accent_db if slot == 0 else 0.0))
        if slot == (0 if is_chop else offbeat):
            if not chord.silent:
                found.append(_note(slot, BandPart.CHOP, chop_notes(chord, key)))
            found.append(_note(slot, BandPart.BRUSH, ()))
        elif slot == 0:
            found.append(_note(slot, BandPart.DRUM, (), accent_db))
    return found


def _is_fifth(meter: Meter, beat: int, chart: Chart, *, one_a_bar: bool) -> bool:
    if one_a_bar and meter is not Meter.FOUR_FOUR:
        # Root and fifth take turns by bar, counted from where the chord began.
        since = beat - chart.starts[chart.span_index(Fraction(beat))]
        return math.ceil(since / meter.beats) % 2 == 1
    return beat % meter.beats > 0


def _note(slot: int, part: BandPart, notes: tuple[int, ...], more_db: float = 0.0) -> BandNote:
    return BandNote(slot=slot, part=part, notes=notes, gain_db=GAINS_DB[part] + more_db)


@lru_cache(maxsize=256)
def band_samples(part: BandPart, notes: tuple[int, ...], gain_db: float, rate: int) -> Samples:
    """Return what a part of the band sounds like, read-only; its first frame is not zero."""
    samples = to_samples(_wave(part, notes, rate), gain_db).copy()
    if samples[0] == 0:
        samples[0] = 1  # an onset is where its first frame is
    samples.flags.writeable = False
    return samples


@lru_cache(maxsize=64)
def _wave(part: BandPart, notes: tuple[int, ...], rate: int) -> Wave:
    if part is BandPart.BASS:
        return bass_wave(notes[0], rate)
    if part is BandPart.CHOP:
        return chop_wave(notes, rate)
    return brush_wave(rate) if part is BandPart.BRUSH else drum_wave(rate)
