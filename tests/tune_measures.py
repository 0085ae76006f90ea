"""Measure a break as a teacher would, and say which stated rule it breaks; music21 reads pitches and chords.

The rules are common practice, no source: a melody that can be sung (at most a twelfth, no leap beyond an
octave, small steps more often than not), of the chord on strong beats, that repeats its phrases and comes
home after the 5, or after the b7 in modal tunes; ornaments in at least half of the bars where the left hand
plays, none undone by the next brush; notes moved both ways at the level of skips, and never at the end of a
part; nothing that a hand cannot hold.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from music21 import harmony
from music21 import interval as m21interval
from music21 import note as m21note

from trainer.music.breaks import Break, lay_break
from trainer.music.form import played_bars, whole_form
from trainer.music.keys import chord_letters, pitch_class
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.strokes import Hand, Kind, Stroke

WIDEST_RANGE = 19  # half steps: a twelfth
WIDEST_LEAP = 12
SMALL_STEP = 4  # half steps: a third or less
LEAST_OF_CHORD = 0.9  # of notes on strong beats
LEAST_REPEATED = 0.25  # of the written bars stand elsewhere too
LEAST_ORNAMENTED = 0.5  # of the bars
WIDEST_SPAN = 4  # frets held at once
HIGHEST_FRET = 5
LEAST_MOVED = 2  # notes early, and as many late


@dataclass(frozen=True, slots=True, kw_only=True)
class MelodyMeasures:
    """What a melody is like."""

    strong_of_chord: float
    range_half_steps: int
    largest_leap: int
    small_steps: float
    repeated_bars: float
    ends_on_one: bool
    cadence: tuple[str, str]

    def refused(self) -> list[str]:
        """Return the rules that it breaks."""
        rules = {
            f"chord tones on {self.strong_of_chord:.0%} of strong beats": self.strong_of_chord
            >= LEAST_OF_CHORD,
            f"a range of {self.range_half_steps}": self.range_half_steps <= WIDEST_RANGE,
            f"a leap of {self.largest_leap}": self.largest_leap <= WIDEST_LEAP,
            f"small steps {self.small_steps:.0%}": self.small_steps > 0.5,
            f"bars repeated {self.repeated_bars:.0%}": self.repeated_bars >= LEAST_REPEATED,
            "no end on the note called 1": self.ends_on_one,
            f"a cadence {' '.join(self.cadence)}": self.cadence[0] in ("5", "b7") and self.cadence[1] == "1",
        }
        return [said for said, kept in rules.items() if not kept]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelMeasures:
    """What a break at a level asks of the hands."""

    ornaments_a_bar: float
    bars_ornamented: float
    undone: int
    early: int
    late: int
    filled: int
    moved_at_ends: int
    widest_span: int
    highest_fret: int

    def refused(self, level: Level) -> list[str]:
        """Return the rules that it breaks at a level."""
        plain, skips = level is Level.PLAIN, level is Level.SKIPS
        rules = {
            f"ornaments in {self.bars_ornamented:.0%} of the bars": (
                self.bars_ornamented == 0
                if plain
                else self.bars_ornamented >= (LEAST_ORNAMENTED * (0.6 if skips else 1))
            ),
            f"{self.undone} ornaments undone by a brush": self.undone == 0,
            f"{self.early} early and {self.late} late": (
                min(self.early, self.late) >= LEAST_MOVED if skips else self.early + self.late == 0
            ),
            f"{self.moved_at_ends} moved at the end of a part": self.moved_at_ends == 0,
            f"a span of {self.widest_span} frets": self.widest_span <= WIDEST_SPAN,
            f"fret {self.highest_fret}": self.highest_fret <= HIGHEST_FRET,
        }
        return [said for said, kept in rules.items() if not kept]


def strong_beats(meter: Meter) -> tuple[int, ...]:
    """Return the beats of a bar that carry weight."""
    return (0, 2) if meter is Meter.FOUR_FOUR else (0,)


@lru_cache(maxsize=256)
def chord_tones(letters: str) -> frozenset[int]:
    """Return the pitch classes that music21 finds in a chord by its letters."""
    name = letters.replace("b", "-")
    return frozenset(pitch.pitchClass for pitch in harmony.ChordSymbol(name).pitches)


def melody_notes(brk: Break) -> list[tuple[Fraction, m21note.Note]]:
    """Return the notes of a melody as it is played, with the beat of each."""
    slots = [slot for bar in brk.melody for slot in bar]
    return [
        (Fraction(at, brk.slots_per_beat), m21note.Note(midi=brk.tuning.note(n.string, n.fret)))
        for at, slot in enumerate(slots)
        if (n := slot.note) is not None
    ]


def measure_melody(brk: Break) -> MelodyMeasures:
    """Return what a melody is like."""
    notes = melody_notes(brk)
    strong = [
        note.pitch.pitchClass in chord_tones(chord_letters(chord, brk.chart.key))
        for beat, note in notes
        if beat % brk.meter.beats in strong_beats(brk.meter)
        and not (chord := brk.chart.chord_at(beat)).silent
    ]
    steps = [abs(m21interval.Interval(a, b).semitones) for (_, a), (_, b) in pairwise(notes)]
    steps = [step for step in steps if step]
    pitches = [note.pitch.midi for _, note in notes]
    places = played_bars(brk.parts or whole_form(len(brk.melody)))
    written = {p.written: bar for p, bar in zip(places, brk.melody, strict=True)}
    count = Counter(written.values())
    last = [span.chord for span in brk.chart.spans[-2:]]
    # A pickup at the end leads on: the tune itself ends before it.
    end = brk.chart.beats - Fraction(brk.parts[0].pickup if brk.parts else 0, brk.slots_per_beat)
    final = [note for beat, note in notes if beat < end][-1]
    return MelodyMeasures(
        strong_of_chord=sum(strong) / len(strong),
        range_half_steps=max(pitches) - min(pitches),
        largest_leap=max(steps),
        small_steps=sum(step <= SMALL_STEP for step in steps) / len(steps),
        repeated_bars=sum(count[bar] > 1 for bar in written.values()) / len(written),
        ends_on_one=final.pitch.pitchClass == pitch_class(brk.chart.key),
        cadence=(_degree(last[0].words), _degree(last[-1].words)),
    )


def _degree(words: str) -> str:
    return words.rstrip("-").removesuffix("^7").rstrip("-")


def measure_level(brk: Break, level: Level) -> LevelMeasures:
    """Return what a break asks of the hands at a level."""
    laid = lay_break(brk, level)
    melody = [slot.note for bar in brk.melody for slot in bar]
    ornamented = [sum(is_ornament(stroke) for stroke in bar) for bar in laid.bars]
    early = late = filled = at_ends = 0
    ends = [p.is_last for p in played_bars(brk.parts or whole_form(len(brk.melody)))]
    wide = 3 if brk.slots_per_beat == 3 else 2
    strokes = laid.strokes
    for at, stroke in enumerate(strokes):
        if stroke.kind is not Kind.SKIP:
            continue
        note = melody[at]
        at_ends += ends[at // laid.slots_per_bar]
        if note is None:
            filled += 1
        elif _is(strokes[at + wide - 1], note.string, note.fret):
            late += 1
        elif _is(strokes[at - 1], note.string, note.fret):
            early += 1
    return LevelMeasures(
        ornaments_a_bar=sum(ornamented) / len(laid.bars),
        bars_ornamented=sum(n > 0 for n in ornamented) / len(laid.bars),
        undone=undone(laid),
        early=early,
        late=late,
        filled=filled,
        moved_at_ends=at_ends,
        widest_span=max(_span(stroke) for stroke in strokes),
        highest_fret=max(fret for stroke in strokes for fret in (*stroke.all_frets, *stroke.triplet, 0)),
    )


def is_ornament(stroke: Stroke) -> bool:
    """Tell whether the left hand sounds something in a stroke."""
    return stroke.hand is Hand.LEFT or stroke.slid_from is not None or bool(stroke.triplet)


def undone(pattern: Pattern) -> int:
    """Return how many ornaments the next stroke, if it is a brush, takes back on their own string."""
    sounding = [s for s in pattern.strokes if s.kind.sounds and s.kind is not Kind.THUMB]
    return sum(
        is_ornament(a)
        and b.kind is Kind.BRUSH
        and any(
            s == a.strings[0] and f != a.last_frets[0] for s, f in zip(b.strings, b.all_frets, strict=True)
        )
        for a, b in pairwise(sounding)
    )


def _is(stroke: Stroke, string: int, fret: int) -> bool:
    return stroke.kind.sounds and (stroke.strings, stroke.fret) == ((string,), fret)


def _span(stroke: Stroke) -> int:
    stopped = [fret for fret in stroke.all_frets if fret]
    return max(stopped) - min(stopped) if stopped else 0
