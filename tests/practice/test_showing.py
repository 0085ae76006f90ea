"""What simulated hands show a class: plain faults, and the judge names each for what it is."""

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.judging.statistics import summarise
from trainer.judging.take import Judgement, Verdict
from trainer.judging.verdicts import judge
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.excerpt import bar_numbers, excerpt
from trainer.music.layout import NO_FEEL, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.showing import (
    CHANGE_SLOTS,
    STOPPED_SLOTS,
    Showing,
    hand_line,
    is_faulty_stretch,
    showings_for,
    shown_outcomes,
    stretch_passes,
    stretch_taps,
)
from trainer.practice.showing_part import beginning_at, first_fault_bar, part_for

ONE, FOUR = Chord(degree=1), Chord(degree=4)
SKIPS = pattern_of(SKIP_FIGURE, SKIP_FIGURE)
CHANGES = replace(
    pattern_of(SKIP_FIGURE, BASIC_FIGURE),
    chart=Chart(key="G", spans=(ChordSpan(chord=ONE, beats=2), ChordSpan(chord=FOUR, beats=2))),
)


def shown(showing: Showing, pattern: Pattern, *, bpm: int = 40, passes: int = 2) -> Judgement:
    targets = lay_out(pattern, Timeline.steady(bpm), passes=passes)
    return judge(targets, stretch_taps(targets, showing, pattern))


def test_clean_is_clean() -> None:
    summary = summarise(shown(Showing.CLEAN, SKIPS))
    assert summary.clean == summary.asked > 0


@pytest.mark.parametrize("bpm", [30, 60, 120])
def test_each_fault_is_judged_as_what_it_is_called(bpm: int) -> None:
    rushed = shown(Showing.RUSHED, SKIPS, bpm=bpm).outcomes
    assert any(o.rushed_gap for o in rushed)
    assert not any(o.verdict is Verdict.TOUCHED for o in rushed)
    touched = shown(Showing.TOUCHED, SKIPS, bpm=bpm).outcomes
    assert {o.verdict for o in touched if o.target.stroke.kind is Kind.SKIP} == {Verdict.TOUCHED}
    assert not any(o.rushed_gap for o in touched)
    stopped = shown(Showing.STOPPED, SKIPS, bpm=bpm).outcomes
    assert {o.verdict for o in stopped if o.target.stroke.kind is Kind.DROP_THUMB} == {Verdict.LATE}


def test_late_after_a_change_is_late_there_and_nowhere_else() -> None:
    outcomes = shown(Showing.LATE_CHANGE, CHANGES).outcomes
    late = [(o.target.bar, o.target.slot) for o in outcomes if o.verdict is Verdict.LATE]
    # Bar 2 begins with a strike on the new chord; bar 1 of the second pass with a skip, so its thumb is late.
    assert late == [(1, 0), (0, 1), (1, 0)]
    placements = [o.placement_s for o in outcomes if o.verdict is Verdict.LATE]
    assert placements == pytest.approx([CHANGE_SLOTS * 0.75] * 3)


def test_speeding_up_leads_by_more_and_more() -> None:
    placed = [
        o.placement_s for o in shown(Showing.HURRYING, SKIPS, passes=3).outcomes if o.placement_s is not None
    ]
    assert placed == sorted(placed, reverse=True)
    assert placed[-1] < -0.2


def test_only_faults_that_a_pattern_can_have_are_shown() -> None:
    assert showings_for(pattern_of(BASIC_FIGURE)) == (Showing.CLEAN, Showing.HURRYING)
    assert Showing.RUSHED in showings_for(SKIPS)
    assert Showing.LATE_CHANGE not in showings_for(SKIPS)
    assert Showing.LATE_CHANGE in showings_for(CHANGES)


def test_the_fault_asked_for_comes_first_and_clean_in_turn_with_it() -> None:
    assert [is_faulty_stretch(Showing.RUSHED, at) for at in range(4)] == [True, False, True, False]
    assert [is_faulty_stretch(Showing.RUSHED, at, is_clean_first=True) for at in range(3)] == [
        False,
        True,
        False,
    ]
    assert not any(is_faulty_stretch(Showing.CLEAN, at) for at in range(4))
    assert stretch_passes(pattern_of(SKIP_FIGURE)) == 2
    assert stretch_passes(pattern_of(*[SKIP_FIGURE] * 8)) == 1


def test_a_pattern_begun_at_another_bar_goes_round_with_its_chords() -> None:
    turned = beginning_at(CHANGES, 1)
    assert turned.bars == (CHANGES.bars[1], CHANGES.bars[0])
    assert turned.chart is not None
    assert [turned.chart.chord_at(Fraction(beat)).words for beat in range(4)] == ["4", "4", "1", "1"]
    assert beginning_at(CHANGES, 2) == CHANGES


def test_a_chord_that_a_begin_cuts_is_in_two_parts() -> None:
    long = replace(
        CHANGES, chart=Chart(key="G", spans=(ChordSpan(chord=ONE, beats=3), ChordSpan(chord=FOUR, beats=1)))
    )
    turned = beginning_at(long, 1)
    assert turned.chart is not None
    assert [(span.chord.words, span.beats) for span in turned.chart.spans] == [("1", 1), ("4", 1), ("1", 2)]


LONG = pattern_of(*[BASIC_FIGURE] * 9, SKIP_FIGURE, *[BASIC_FIGURE] * 6)


@pytest.mark.parametrize("showing", [Showing.STOPPED, Showing.RUSHED, Showing.TOUCHED])
def test_a_long_pattern_is_shown_where_the_fault_is_and_its_bars_keep_their_numbers(showing: Showing) -> None:
    part = part_for(LONG, showing)
    assert part.numbers == (9, 10)
    assert part.pattern.bars == LONG.bars[8:10]
    assert first_fault_bar(part.pattern, showing) == 1  # reached within two bars


def test_marked_bars_are_shown_from_at_most_a_bar_before_the_fault() -> None:
    cut = excerpt(LONG, 6, 11)
    marked = part_for(cut, Showing.RUSHED)
    assert marked.numbers == (9, 10, 11, 12, 7, 8)
    assert marked.pattern.bars[1] == LONG.bars[9]
    assert part_for(cut, Showing.CLEAN).numbers == (7, 8, 9, 10, 11, 12)


def test_a_short_figure_is_shown_whole() -> None:
    assert part_for(CHANGES, Showing.LATE_CHANGE).numbers == (1, 2)


def test_what_was_cut_out_before_keeps_the_numbers_of_the_whole() -> None:
    cut = excerpt(LONG, 8, 11)
    assert bar_numbers(cut) == (9, 10, 11, 12)
    assert part_for(cut, Showing.RUSHED).numbers == (9, 10, 11, 12)
    assert bar_numbers(LONG) == tuple(range(1, 17))


def test_clean_and_fault_are_known_before_anything_is_played() -> None:
    clean = shown_outcomes(SKIPS, Showing.CLEAN, Fraction(45), NO_FEEL)
    assert {o.verdict for o in clean} == {Verdict.IN_TIME, Verdict.KEPT_SILENT}
    touched = shown_outcomes(SKIPS, Showing.TOUCHED, Fraction(45), NO_FEEL)
    assert sum(o.verdict is Verdict.TOUCHED for o in touched) == 2
    assert len(clean) == len(touched) == 8


def test_the_hand_stops_while_it_is_shown_to_stop_and_else_moves_on() -> None:
    targets = lay_out(SKIPS, Timeline.steady(45), passes=2)
    skip, after = targets[8], targets[9]
    line = hand_line(targets, stretch_taps(targets, Showing.STOPPED, SKIPS), Showing.STOPPED)
    still = [line.at(skip.song_s + share * skip.slot_s).path_s for share in (0.0, 0.3, 0.7)]
    assert still == pytest.approx([skip.song_s] * 3)
    late_s = after.song_s + STOPPED_SLOTS * skip.slot_s
    assert line.at(late_s).path_s == pytest.approx(after.song_s)  # it comes to the stroke when that sounds
    clean = hand_line(targets, stretch_taps(targets, Showing.CLEAN, SKIPS), Showing.CLEAN)
    for at in range(200):
        song_s = targets[1].song_s + at * 0.05
        assert clean.at(song_s).path_s == pytest.approx(song_s)


def test_the_hand_goes_down_to_the_strings_where_it_touches_the_skip() -> None:
    targets = lay_out(SKIPS, Timeline.steady(45), passes=2)
    line = hand_line(targets, stretch_taps(targets, Showing.TOUCHED, SKIPS), Showing.TOUCHED)
    assert line.at(targets[8].song_s).low == pytest.approx(1.0)
    assert line.at(targets[10].song_s).low == 0.0
