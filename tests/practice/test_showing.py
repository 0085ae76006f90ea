"""What simulated hands show a class: plain faults, and the judge names each for what it is."""

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.judging.statistics import summarise
from trainer.judging.take import Judgement, Verdict
from trainer.judging.verdicts import judge
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.showing import (
    CHANGE_SLOTS,
    Showing,
    beginning_at,
    is_faulty_stretch,
    showings_for,
    stretch_passes,
    stretch_taps,
)

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


def test_clean_comes_first_and_then_in_turn() -> None:
    assert [is_faulty_stretch(Showing.RUSHED, at) for at in range(4)] == [False, True, False, True]
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
