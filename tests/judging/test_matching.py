"""Pairing taps with strokes: against brute force, against scipy, and the decisions it exists for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from tests.judging.helpers import (
    BASIC_FIGURE,
    SKIP_FIGURE,
    as_asked,
    best_by_trying_all,
    cost_of,
    targets_of,
)
from trainer.judging.matching import Priced, Touch, match, pair_cost, price
from trainer.music.strokes import Hand

HANDS = st.sampled_from([None, Hand.NAIL, Hand.THUMB])


def priced_of(*bars: str, bpm: int = 60, passes: int = 1) -> list[Priced]:
    priced = (price(t, knows_left=False) for t in targets_of(*bars, bpm=bpm, passes=passes))
    return [p for p in priced if p is not None]


@st.composite
def touches(draw: st.DrawFn, most: int, until_us: int) -> list[Touch]:
    times = sorted(draw(st.lists(st.integers(-400_000, until_us), max_size=most)))
    strings = st.sampled_from([None, 1, 2, 3, 5])
    return [Touch(at_us=t, hand=draw(HANDS), string=draw(strings)) for t in times]


@given(
    touches(5, 2_400_000),
    st.sampled_from([(SKIP_FIGURE,), (BASIC_FIGURE,), ("strike 3, drop-thumb 2, skip, thumb",)]),
)
def test_no_pairing_in_order_costs_less(taps: list[Touch], bars: tuple[str, ...]) -> None:
    targets = priced_of(*bars)
    pairs = match(targets, taps)
    assert [p for p in pairs if p is not None] == sorted({p for p in pairs if p is not None})
    assert cost_of(targets, taps, pairs) == best_by_trying_all(targets, taps)


def assignment_cost(targets: list[Priced], taps: list[Touch]) -> int:
    """The least price over all pairings, in order or not, by scipy's assignment solver.

    Targets may also take a dummy "missed" column, taps a dummy "stray" row.
    """
    n, m = len(targets), len(taps)
    table = np.zeros((n + m, m + n))
    huge = 10**12
    table[:n, :m] = [[pair_cost(t, tap) for tap in taps] for t in targets]
    table[:n, m:] = huge
    table[n:, :m] = huge
    table[np.arange(n), m + np.arange(n)] = [t.miss_us for t in targets]
    table[n + np.arange(m), np.arange(m)] = targets[0].stray_us
    rows, columns = linear_sum_assignment(table)
    return int(table[rows, columns].sum())


@given(st.lists(st.integers(-200_000, 4_200_000), max_size=14, unique=True))
def test_timing_alone_costs_what_scipys_assignment_costs(times: list[int]) -> None:
    """Outside check: on a line, a least-cost assignment by distance never needs to cross."""
    targets = priced_of("strike 3, thumb, brush, thumb", passes=2)
    taps = [Touch(at_us=t, hand=None, string=None) for t in sorted(times)]
    assert cost_of(targets, taps, match(targets, taps)) == assignment_cost(targets, taps)


@given(touches(10, 4_000_000))
def test_with_hands_it_is_never_cheaper_than_scipys_assignment_and_equal_when_sober(
    taps: list[Touch],
) -> None:
    """Outside check: keeping order can only cost more; with taps near their strokes it costs the same."""
    targets = priced_of(SKIP_FIGURE, passes=2)
    assert cost_of(targets, taps, match(targets, taps)) >= assignment_cost(targets, taps)
    near = [
        Touch(at_us=t.at_us + 20_000, hand=t.target.stroke.hand, string=None)
        for t in targets
        if t.target.stroke.kind.sounds
    ]
    assert cost_of(targets, near, match(targets, near)) == assignment_cost(targets, near)


def test_the_closest_pairing_wins_not_the_largest_number_or_the_first_come() -> None:
    """mir_eval's matching may pair 0 with 39 ms although 40 ms is 1 ms away; ours may not."""
    targets = priced_of("strike 3, thumb, brush, thumb", bpm=300)
    step = targets[1].at_us
    taps = [Touch(at_us=step - 1_000, hand=None, string=None)]
    assert match(targets, taps) == [None, 0, None, None]


@pytest.mark.parametrize(
    ("share", "touched", "played"),
    [(0.0, True, False), (0.2, True, False), (0.3, False, True), (0.6, False, True), (1.0, False, True)],
)
def test_without_hands_a_lone_tap_in_the_gap_touches_only_in_its_first_quarter(
    share: float, touched: bool, played: bool
) -> None:
    targets = priced_of(SKIP_FIGURE)
    gap = targets[1].at_us
    taps = [Touch(at_us=int(share * gap), hand=None, string=None)]
    taps += [Touch(at_us=t.at_us, hand=None, string=None) for t in targets[2:]]
    pairs = match(targets, taps)
    assert (pairs[0] == 0, pairs[1] == 0) == (touched, played)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.5, 0.7, 0.95])
def test_a_rushed_thumb_is_never_taken_for_a_touch_when_hands_are_known(share: float) -> None:
    targets = priced_of(SKIP_FIGURE)
    taps = [Touch(at_us=int(share * targets[1].at_us), hand=Hand.THUMB, string=None)]
    taps += [Touch(at_us=t.at_us, hand=t.target.stroke.hand, string=None) for t in targets[2:]]
    assert match(targets, taps) == [None, 0, 1, 2]


@pytest.mark.parametrize("share", [-0.4, 0.0, 0.2, 0.45])
def test_a_nail_that_touches_on_the_skip_is_read_as_touched(share: float) -> None:
    targets = priced_of(SKIP_FIGURE)
    gap = targets[1].at_us
    taps = [Touch(at_us=int(share * gap), hand=Hand.NAIL, string=None)]
    taps += [Touch(at_us=t.at_us, hand=t.target.stroke.hand, string=None) for t in targets[1:]]
    assert match(targets, taps) == [0, 1, 2, 3]


def test_a_wrong_hand_is_taken_for_the_stroke_within_half_a_slot_only() -> None:
    targets = priced_of("strike 3, rest, rest, rest")
    unit = targets[0].unit_us
    for at, taken in ((unit // 2 - 1, 0), (unit // 2 + 1, None)):
        assert match(targets, [Touch(at_us=at, hand=Hand.THUMB, string=None)]) == [taken]
    for at, taken in ((unit - 1, 0), (unit + 1, None)):
        assert match(targets, [Touch(at_us=at, hand=Hand.NAIL, string=None)]) == [taken]
    for at, taken in ((unit * 3 // 4 - 1, 0), (unit * 3 // 4 + 1, None)):
        assert match(targets, [Touch(at_us=at, hand=Hand.NAIL, string=1)]) == [taken]


def test_the_second_of_a_doubled_tap_is_the_stray() -> None:
    targets = priced_of(BASIC_FIGURE)
    taps = [Touch(at_us=at, hand=Hand.NAIL, string=None) for at in (3_000, 60_000)]
    assert match(targets, taps)[0] == 0


def test_no_targets_or_no_taps_give_no_pairs() -> None:
    assert match([], [Touch(at_us=0, hand=None, string=None)]) == []
    assert match(priced_of(SKIP_FIGURE), []) == [None] * 4


def test_as_asked_every_stroke_gets_its_own_tap() -> None:
    targets = targets_of(SKIP_FIGURE, BASIC_FIGURE, passes=3)
    assert len(as_asked(targets)) == 18
