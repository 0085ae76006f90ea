"""The breaks and charts that come with the program: musical, playable, in several keys, tunings and meters.

What makes a melody singable stands in :mod:`tests.tune_measures`, where music21, a general music library,
names the notes, counts the intervals and says which tones a chord has.
"""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.shipped import shipped
from tests.tune_measures import is_ornament, measure_level, measure_melody, undone
from trainer.music.backup import BackupChart, lay_chart
from trainer.music.breaks import Break, lay_break
from trainer.music.chart import Mode
from trainer.music.layout import lay_out
from trainer.music.melody import MelodySlot, Note
from trainer.music.notation import read_pattern, write_pattern
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.strokes import Kind, Stroke
from trainer.music.timeline import Timeline

LIBRARY = shipped()
BREAKS = [entry.brk for entry in LIBRARY.breaks]
CHARTS = [entry.backup for entry in LIBRARY.charts]
LAID = [lay_break(brk, level) for brk in BREAKS for level in Level]
HIGHEST_FRET = 5
# Tapping with sounds breaks down at intervals of 100 to 125 ms: Repp 2006, Adv. Cogn. Psychol. 2:163-181.
SHORTEST_INTERVAL_S = 0.100

each_break = pytest.mark.parametrize("brk", BREAKS, ids=[brk.name for brk in BREAKS])
each_laid = pytest.mark.parametrize("pattern", LAID, ids=[pattern.name for pattern in LAID])


def test_there_are_ten_breaks_and_twelve_charts_and_none_is_broken() -> None:
    assert LIBRARY.problems == ()
    assert LIBRARY.remarks == ()
    assert len(BREAKS) >= 10
    assert len(CHARTS) >= 12
    wanted = {Meter.TWO_FOUR, Meter.THREE_FOUR, Meter.FOUR_FOUR, Meter.SIX_EIGHT}
    assert wanted <= {brk.meter for brk in BREAKS}
    assert wanted <= {chart.meter for chart in CHARTS}
    assert {"G", "A", "C", "D"} <= {brk.chart.key for brk in BREAKS}
    assert {Mode.MAJOR, Mode.MINOR, Mode.DORIAN, Mode.MIXOLYDIAN} == {brk.chart.mode for brk in BREAKS}
    words = {span.chord.words for chart in CHARTS for span in chart.chart.spans}
    assert {"1", "4", "5", "6-", "2-", "b7", "5^7", "1/3", "#4dim", "no chord"} <= words


def test_keys_tunings_and_capos_differ() -> None:
    assert len({chart.chart.key for chart in CHARTS}) >= 3
    assert {chart.tuning.words for chart in CHARTS} == {"open G", "double C", "sawmill", "open D"}
    assert len({chart.tuning.capo for chart in CHARTS}) >= 2
    assert len({brk.tuning.words for brk in BREAKS}) == 3


@each_break
def test_a_break_has_whole_parts_and_a_sentence_for_the_class(brk: Break) -> None:
    assert len(brk.melody) in (16, 32)
    assert brk.teacher.endswith(".")
    assert 6 <= len(brk.teacher.split()) <= 32
    assert brk.goal_bpm >= brk.slow_bpm * Fraction(3, 2)
    assert brk.playing_bpm is not None
    assert brk.playing_bpm > brk.goal_bpm


def test_most_breaks_have_two_parts_that_are_played_twice() -> None:
    forms = [[(part.name, part.times) for part in brk.parts] for brk in BREAKS]
    assert sum(form == [("A", 2), ("B", 2)] for form in forms) >= 7
    assert any(part.endings for brk in BREAKS for part in brk.parts)
    assert any(part.pickup for brk in BREAKS for part in brk.parts)


@each_break
def test_the_melody_keeps_the_rules_of_the_study(brk: Break) -> None:
    assert measure_melody(brk).refused() == []


@each_break
@pytest.mark.parametrize("level", Level)
def test_each_level_keeps_the_rules_of_the_study(brk: Break, level: Level) -> None:
    assert measure_level(brk, level).refused(level) == []


def test_the_measures_see_what_is_wrong() -> None:
    """Each fault is planted in a good break: a leap far up the neck, a brush that undoes."""
    [frost] = [brk for brk in BREAKS if brk.name == "turnip-frost"]
    high = MelodySlot(note=Note(string=1, fret=21))
    spoilt = replace(frost, melody=((high, *frost.melody[0][1:]), *frost.melody[1:]))
    said = " ".join(measure_melody(spoilt).refused())
    assert "a range of" in said
    assert "a leap of" in said
    laid = lay_break(frost, Level.ORNAMENTS)
    struck, hammered = laid.bars[0][:2]
    brush = Stroke(kind=Kind.BRUSH, strings=(3, 2, 1))
    assert hammered.kind is Kind.HAMMER_ON
    assert undone(replace(laid, bars=((struck, hammered, brush, laid.bars[0][3]),), parts=())) == 1


def test_first_breaks_need_no_shape_that_no_step_has_taught() -> None:
    """A shape is taught where a step has a brush of these frets under that chord, in the same tuning."""
    steps = {p.name: p for p in LIBRARY.patterns}

    def taught(names: tuple[str, ...]) -> set[str]:
        found: set[str] = set()
        for name in names:
            chart = steps[name].chart
            found |= {span.chord.words for span in chart.spans} if chart is not None else set()
            found |= taught(steps[name].needs)
        return found

    for brk in sorted(BREAKS, key=lambda brk: brk.step)[:5]:
        open_shape = {"1"}
        words = {span.chord.words for span in brk.chart.spans}
        assert words <= taught(brk.needs) | open_shape, brk.name


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
    targets = lay_out(pattern, Timeline.steady(pattern.fastest_bpm), passes=2)
    heard = [target.song_s for target in targets if target.stroke.kind.sounds]
    assert min(b - a for a, b in pairwise(heard)) > SHORTEST_INTERVAL_S


@each_laid
def test_a_level_asks_for_what_its_name_says(pattern: Pattern) -> None:
    kinds = {stroke.kind for stroke in pattern.strokes}
    left = any(is_ornament(stroke) for stroke in pattern.strokes)
    if pattern.level is Level.PLAIN:
        assert kinds <= {Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.REST}
    elif pattern.level is Level.ORNAMENTS:
        assert left
        assert Kind.SKIP not in kinds
    else:
        assert sum(stroke.kind is Kind.SKIP for stroke in pattern.strokes) >= len(pattern.bars) // 4


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
        assert len(laid.bars) in (8, 16, 32)


def test_names_of_patterns_breaks_and_charts_are_all_different() -> None:
    names = [p.name for p in LIBRARY.patterns] + [b.name for b in BREAKS] + [c.name for c in CHARTS]
    assert len(set(names)) == len(names)
