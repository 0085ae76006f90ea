"""The breaks and charts that come with the program: musical, playable, in several keys, tunings and meters.

What makes a melody singable is common practice, no source: a range of at most a twelfth, no leap beyond an
octave, small steps more often than not, notes mostly of the chord, and an end on the 1 after the chord 5.
Outside check: music21 names the notes and counts the intervals.
"""

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from music21 import interval as m21interval
from music21 import note as m21note

from trainer.music.backup import BackupChart, lay_chart
from trainer.music.breaks import Break, lay_break
from trainer.music.keys import chord_classes, pitch_class
from trainer.music.layout import lay_out
from trainer.music.notation import read_pattern, write_pattern
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.records.library import load_library

LIBRARY = load_library(Path("none"))
BREAKS = [entry.brk for entry in LIBRARY.breaks]
CHARTS = [entry.backup for entry in LIBRARY.charts]
LAID = [lay_break(brk, level) for brk in BREAKS for level in Level]
HIGHEST_FRET = 5
WIDEST_RANGE = 19  # half steps from the lowest to the highest note: a twelfth, as far as most people sing
WIDEST_LEAP = 12
LEAST_OF_THE_CHORD = Fraction(3, 4)
# Tapping with sounds breaks down at intervals of 100 to 125 ms: Repp 2006, Adv. Cogn. Psychol. 2:163-181.
SHORTEST_INTERVAL_S = 0.100

each_break = pytest.mark.parametrize("brk", BREAKS, ids=[brk.name for brk in BREAKS])
each_laid = pytest.mark.parametrize("pattern", LAID, ids=[pattern.name for pattern in LAID])


def melody(brk: Break) -> list[tuple[int, m21note.Note]]:
    """Return the melody notes on beats with the beat of each."""
    beats = [slot for bar in brk.melody for slot in bar][:: brk.slots_per_beat]
    return [
        (at, m21note.Note(midi=brk.tuning.note(beat.note.string, beat.note.fret)))
        for at, beat in enumerate(beats)
        if beat.note is not None
    ]


def test_there_are_three_breaks_one_in_three_four_and_four_charts() -> None:
    assert LIBRARY.problems == ()
    assert LIBRARY.remarks == ()
    assert len(BREAKS) >= 3
    assert Meter.THREE_FOUR in {brk.meter for brk in BREAKS}
    assert len(CHARTS) >= 4
    assert Meter.THREE_FOUR in {chart.meter for chart in CHARTS}
    words = {span.chord.words for chart in CHARTS for span in chart.chart.spans}
    assert {"1", "4", "5", "6-", "2-", "b7"} <= words


def test_keys_tunings_and_capos_differ() -> None:
    assert len({chart.chart.key for chart in CHARTS}) >= 3
    assert {chart.tuning.words for chart in CHARTS} == {"open G", "double C", "sawmill", "open D"}
    assert len({chart.tuning.capo for chart in CHARTS}) >= 2
    assert len({brk.tuning.words for brk in BREAKS}) == 3


@each_break
def test_a_break_has_eight_or_sixteen_bars_and_a_sentence_for_the_class(brk: Break) -> None:
    assert len(brk.melody) in (8, 16)
    assert brk.teacher.endswith(".")
    assert 6 <= len(brk.teacher.split()) <= 32
    assert brk.goal_bpm >= brk.slow_bpm * Fraction(3, 2)


@each_break
def test_the_melody_lies_within_a_voice_and_makes_no_leap_that_cannot_be_sung(brk: Break) -> None:
    notes = [note for _beat, note in melody(brk)]
    steps = [abs(m21interval.Interval(a, b).semitones) for a, b in pairwise(notes)]
    pitches = [note.pitch.midi for note in notes]
    assert max(pitches) - min(pitches) <= WIDEST_RANGE
    assert max(steps) <= WIDEST_LEAP
    # A tune goes by step or small third more often than it leaps: common practice, no source.
    assert sum(step <= 4 for step in steps) > len(steps) / 2


@each_break
def test_the_melody_is_mostly_of_the_chord_under_it_and_begins_each_chord_in_it(brk: Break) -> None:
    fits = {
        beat: note.pitch.pitchClass in chord_classes(brk.chart.chord_at(beat), brk.chart.key)
        for beat, note in melody(brk)
    }
    assert Fraction(sum(fits.values()), len(fits)) >= LEAST_OF_THE_CHORD
    assert [start for start in brk.chart.starts if not fits.get(int(start), True)] == []


@each_break
def test_the_end_is_a_cadence_to_the_note_called_one(brk: Break) -> None:
    beat, last = melody(brk)[-1]
    assert beat >= brk.chart.beats - brk.meter.beats
    assert last.pitch.pitchClass == pitch_class(brk.chart.key)
    before, home = (span.chord.degree for span in brk.chart.spans[-2:])
    assert (before, home) == (5, 1)
    assert brk.chart.spans[0].chord.degree == 1


@each_break
def test_the_first_half_ends_open_on_the_five(brk: Break) -> None:
    assert brk.chart.chord_at(brk.chart.beats // 2 - 1).degree == 5


@each_laid
def test_everything_lies_within_the_first_five_frets(pattern: Pattern) -> None:
    assert max(fret for stroke in pattern.strokes for fret in (*stroke.all_frets, 0)) <= HIGHEST_FRET


@each_laid
def test_the_left_hand_never_has_to_hold_more_than_four_frets_at_once(pattern: Pattern) -> None:
    for stroke in pattern.strokes:
        stopped = [fret for fret in stroke.all_frets if fret]
        assert not stopped or max(stopped) - min(stopped) <= 3


@each_laid
def test_a_laid_break_is_a_pattern_that_can_be_drilled_and_written(pattern: Pattern) -> None:
    assert read_pattern(write_pattern(pattern), name=pattern.name) == pattern
    targets = lay_out(pattern, Timeline.steady(pattern.goal_bpm), passes=2)
    heard = [target.song_s for target in targets if target.stroke.kind.sounds]
    assert min(b - a for a, b in pairwise(heard)) > SHORTEST_INTERVAL_S


@each_laid
def test_a_level_asks_for_what_its_name_says(pattern: Pattern) -> None:
    kinds = {stroke.kind for stroke in pattern.strokes}
    left = any(kind.hand is Hand.LEFT for kind in kinds)
    if pattern.level is Level.PLAIN:
        assert kinds <= {Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.REST}
    elif pattern.level is Level.ORNAMENTS:
        assert left
        assert Kind.SKIP not in kinds
    else:
        assert sum(stroke.kind is Kind.SKIP for stroke in pattern.strokes) >= len(pattern.bars) // 3


@each_laid
def test_what_a_level_needs_is_in_the_course(pattern: Pattern) -> None:
    by_name = {p.name: p for p in LIBRARY.patterns}
    assert [need for need in pattern.needs if need not in by_name] == []


@pytest.mark.parametrize("backup", CHARTS, ids=[chart.name for chart in CHARTS])
def test_every_figure_of_its_meter_can_be_laid_over_a_chart_within_the_first_frets(
    backup: BackupChart,
) -> None:
    fitting = [p for p in LIBRARY.patterns if p.meter is backup.meter]
    assert backup.figure in {p.name for p in fitting}
    for figure in fitting:
        laid = lay_chart(backup, figure)
        assert max(fret for stroke in laid.strokes for fret in (*stroke.all_frets, 0)) <= 7
        assert len(laid.bars) in (8, 16)


def test_names_of_patterns_breaks_and_charts_are_all_different() -> None:
    names = [p.name for p in LIBRARY.patterns] + [b.name for b in BREAKS] + [c.name for c in CHARTS]
    assert len(set(names)) == len(names)
