"""Laws of the hand's path; they are the picture's meaning, so the source is the design itself."""

import itertools
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import patterns
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind, Motion
from trainer.music.timeline import Timeline
from trainer.screen.hand_path import (
    BRUSH_BELOW,
    CREST,
    SKIP_TURN,
    STRING_5,
    HandPath,
    Slot,
    hermite,
    path_of,
    string_height,
    touch_beat,
)

FEELS = st.sampled_from((Feel(), Feel(swing=Fraction(2)), Feel(swing=Fraction(3, 2))))
EXACT = 1e-9


def slots_of(pattern: Pattern, feel: Feel = Feel()) -> tuple[Slot, ...]:  # noqa: B008 - a frozen value
    return tuple(
        Slot(float(t.beat), t.motion, t.stroke.kind, t.stroke.strings, t.stroke.accented)
        for t in lay_out(pattern, Timeline.steady(60), passes=2, feel=feel)
    )


def at(path: HandPath, beat: float) -> float:
    return float(path.heights(np.array([beat]))[0])


@given(patterns(), FEELS)
def test_the_path_has_no_jump_and_no_corner(pattern: Pattern, feel: Feel) -> None:
    path = path_of(slots_of(pattern, feel))
    for left, right in itertools.pairwise(path.knots):
        assert right.beat > left.beat
        step = (right.beat - left.beat) * 1e-6
        assert at(path, right.beat - step) == pytest.approx(right.height, abs=1e-3)
    for knot in path.knots[1:-1]:
        step = 1e-6
        before = (at(path, knot.beat) - at(path, knot.beat - step)) / step
        after = (at(path, knot.beat + step) - at(path, knot.beat)) / step
        assert after == pytest.approx(before, abs=0.05)


@given(patterns(), FEELS)
def test_the_path_never_swings_past_its_turns(pattern: Pattern, feel: Feel) -> None:
    path = path_of(slots_of(pattern, feel))
    for left, right in itertools.pairwise(path.knots):
        heights = path.heights(np.linspace(left.beat, right.beat, 50))
        low, high = sorted((left.height, right.height))
        assert heights.min() >= low - EXACT
        assert heights.max() <= high + EXACT


@given(patterns(), FEELS)
def test_a_strike_is_a_trough_on_its_string_at_its_very_beat(pattern: Pattern, feel: Feel) -> None:
    slots = slots_of(pattern, feel)
    path = path_of(slots)
    for slot in slots:
        if slot.kind is Kind.STRIKE:
            here = at(path, slot.beat)
            assert here == pytest.approx(string_height(slot.strings[0]), abs=EXACT)
            assert at(path, slot.beat - 0.01) >= here
            assert at(path, slot.beat + 0.01) >= here


@given(patterns(), FEELS)
def test_a_skip_comes_down_in_time_and_stays_clear_of_every_string(pattern: Pattern, feel: Feel) -> None:
    slots = slots_of(pattern, feel)
    path = path_of(slots)
    for slot in slots:
        if slot.kind is Kind.SKIP:
            assert at(path, slot.beat) == SKIP_TURN > STRING_5 + 0.5
            assert at(path, slot.beat - 0.03) >= SKIP_TURN
            assert at(path, slot.beat + 0.03) >= SKIP_TURN


@given(patterns(), FEELS)
def test_a_brush_crosses_its_strings_falling_and_turns_below_the_last(pattern: Pattern, feel: Feel) -> None:
    slots = slots_of(pattern, feel)
    path = path_of(slots)
    for slot in slots[1:-1]:
        if slot.kind is Kind.BRUSH:
            beats = [touch_beat(path, slot, string) for string in slot.strings]
            assert beats == sorted(beats)
            assert beats[0] <= slot.beat + 1e-3
            assert slot.beat <= beats[-1] + 1e-3
            low = path.heights(np.linspace(slot.beat, slot.beat + 0.12, 400)).min()
            assert low <= string_height(slot.strings[-1]) - BRUSH_BELOW + 0.02


@given(patterns(), FEELS)
def test_the_hand_rises_through_every_up_slot(pattern: Pattern, feel: Feel) -> None:
    slots = slots_of(pattern, feel)
    path = path_of(slots)
    for before, slot in itertools.pairwise(slots):
        if slot.motion is Motion.UP and before.motion is Motion.DOWN:
            assert at(path, slot.beat + 1e-3) > at(path, slot.beat - 1e-3)


@given(patterns(), FEELS)
def test_a_thumb_leaves_its_string_at_its_beat_and_joins_the_rising_hand(
    pattern: Pattern, feel: Feel
) -> None:
    slots = slots_of(pattern, feel)
    path = path_of(slots)
    thumbs = [slot for slot in slots if slot.kind.hand is Hand.THUMB]
    assert len(thumbs) == len(path.branches)
    for slot, branch in zip(thumbs, path.branches, strict=True):
        assert (branch.start.beat, branch.start.height) == (slot.beat, string_height(slot.strings[0]))
        assert branch.end.height == pytest.approx(at(path, branch.end.beat), abs=EXACT)
        heights = hermite((branch.start, branch.end), np.linspace(branch.start.beat, branch.end.beat, 40))
        assert (np.diff(heights) >= -EXACT).all()


@given(patterns())
def test_a_left_hand_sound_or_a_rest_does_not_bring_the_hand_to_the_strings(pattern: Pattern) -> None:
    slots = slots_of(pattern)
    path = path_of(slots)
    for slot in slots:
        if slot.kind.hand is Hand.LEFT or slot.kind is Kind.REST:
            silent_down = slot.motion is Motion.DOWN
            if silent_down:
                assert at(path, slot.beat) > SKIP_TURN


def test_swing_shows_in_true_time() -> None:
    """A ratio of 2 puts the up slot at two thirds of the beat: Friberg & Sundstrom 2002."""
    down = Slot(0.0, Motion.DOWN, Kind.STRIKE, (3,))
    path = path_of(
        (down, Slot(2 / 3, Motion.UP, Kind.THUMB, (5,)), Slot(1.0, Motion.DOWN, Kind.STRIKE, (3,)))
    )
    assert path.branches[0].start.beat == pytest.approx(2 / 3)
    assert max(knot.height for knot in path.knots) == CREST


def test_one_slot_alone_is_a_hand_that_stays() -> None:
    path = path_of((Slot(0.0, Motion.DOWN, Kind.STRIKE, (2,)),))
    assert path.heights(np.array([-1.0, 0.0, 1.0])).tolist() == [1.0, 1.0, 1.0]
