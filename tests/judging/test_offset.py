"""Beat 0 is found in a recording, and what cannot be told is said."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, pattern_of, tap
from trainer.errors import BadTake
from trainer.judging.offset import find_offset, found_elsewhere, passes_reached
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate

BOTH = pattern_of(BASIC_FIGURE, SKIP_FIGURE)
NINETY = Timeline.steady(90)


def played(pattern: Pattern, faults: Faults = Faults(), *, passes: int = 4, seed: int = 1) -> tuple[Tap, ...]:  # noqa: B008 - a frozen value
    targets = lay_out(pattern, NINETY, passes=passes)
    return simulate(targets, faults, np.random.default_rng(seed)).taps


def moved(taps: tuple[Tap, ...], by_s: float) -> tuple[Tap, ...]:
    return tuple(replace(each, song_s=each.song_s + by_s) for each in taps)


@given(offset_s=st.floats(-30, 3600))
def test_exact_play_is_found_to_the_microsecond_wherever_it_lies(offset_s: float) -> None:
    found = find_offset(BOTH, NINETY, moved(played(BOTH), offset_s))
    assert found.offset_s == pytest.approx(offset_s, abs=2e-6)
    assert found.paired == found.looked_at == 24
    assert found.is_clear


@settings(max_examples=40)
@given(seed=st.integers(0, 10_000))
def test_a_faulty_player_is_found_within_the_error_of_a_median(seed: int) -> None:
    """The median of n normal errors has a standard error of sd * sqrt(pi / 2n): 3.8 ms for 24 of 15 ms."""
    faults = Faults(jitter_s=0.015, touch_skips=0.2, miss=0.03)
    found = find_offset(BOTH, NINETY, moved(played(BOTH, faults, seed=seed), 3.21))
    assert found.offset_s == pytest.approx(3.21, abs=5 * 0.0038)


def test_a_first_pass_with_a_third_of_its_strokes_missed_is_not_taken_for_a_count_in() -> None:
    taps = tuple(each for at, each in enumerate(played(BOTH)) if at not in (1, 3))
    assert find_offset(BOTH, NINETY, moved(taps, 2.0)).offset_s == pytest.approx(2.0, abs=1e-5)


@pytest.mark.parametrize("one_pad", [False, True])
def test_taps_along_with_the_count_in_are_left_out(one_pad: bool) -> None:
    taps = played(BOTH, Faults(one_pad=one_pad))
    beat_s = 60 / 90
    count_in = tuple(replace(taps[0], song_s=-beat_s * n) for n in (4, 3, 2, 1))
    found = find_offset(BOTH, NINETY, moved(count_in + taps, 10.0))
    assert found.offset_s == pytest.approx(10.0, abs=1e-5)


def test_a_common_lean_is_taken_up_by_the_offset() -> None:
    targets = lay_out(BOTH, NINETY, passes=4)
    found = find_offset(BOTH, NINETY, as_asked(targets, late_s=0.040))
    assert found.offset_s == pytest.approx(0.040, abs=2e-6)


def test_a_lean_of_one_kind_is_left_to_judge() -> None:
    targets = lay_out(BOTH, NINETY, passes=4)
    early = [
        replace(each, song_s=each.song_s - 0.06) if each.string == 2 else each for each in as_asked(targets)
    ]
    assert find_offset(BOTH, NINETY, early).offset_s == pytest.approx(0, abs=2e-6)


def test_a_pattern_that_begins_with_a_silent_skip_is_not_begun_at_its_first_sound() -> None:
    pattern = pattern_of(SKIP_FIGURE)
    found = find_offset(pattern, NINETY, moved(played(pattern), 7.0))
    assert found.offset_s == pytest.approx(7.0, abs=1e-5)


def test_equal_strokes_from_one_pad_are_not_called_clear() -> None:
    """One beat later the same taps fit with a single stroke missed or over."""
    pattern = pattern_of("strike 3, rest, strike 3, rest")
    found = find_offset(pattern, NINETY, moved(played(pattern), 5.0))
    assert found.offset_s == pytest.approx(5.0, abs=1e-5)
    assert not found.is_clear
    assert found.next_s is not None
    assert abs(found.next_s - 5.0) == pytest.approx(60 / 90, abs=1e-3)


def test_a_take_of_one_tap_is_given_to_the_first_stroke() -> None:
    found = find_offset(pattern_of(BASIC_FIGURE), NINETY, [tap(2.5)])
    assert found.offset_s == pytest.approx(2.5, abs=1e-6)


def test_a_long_take_is_found_by_its_beginning() -> None:
    found = find_offset(BOTH, NINETY, moved(played(BOTH, Faults(jitter_s=0.01), passes=500), 1.0))
    assert found.looked_at == 64
    assert found.offset_s == pytest.approx(1.0, abs=0.01)


def test_a_take_without_taps_is_refused() -> None:
    with pytest.raises(BadTake, match="there is no tap in the take"):
        find_offset(BOTH, NINETY, [])


def test_a_pattern_without_sound_is_refused() -> None:
    with pytest.raises(BadTake, match="asks for nothing that can be heard"):
        find_offset(pattern_of("skip, rest, skip, rest"), NINETY, [tap(0.0)])


class TestPassesReached:
    """BOTH lasts four beats: 8/3 s at 90."""

    def test_the_last_stroke_of_a_pass_is_in_it(self) -> None:
        assert passes_reached(BOTH, NINETY, 8 / 3 - 1 / 3) == 1

    def test_a_closing_tap_on_the_next_beat_opens_no_new_pass(self) -> None:
        assert passes_reached(BOTH, NINETY, 8 / 3) == 1
        assert passes_reached(BOTH, NINETY, 8 / 3 + 0.1) == 1

    def test_a_tap_after_it_does(self) -> None:
        assert passes_reached(BOTH, NINETY, 8 / 3 + 1 / 3) == 2

    def test_there_is_always_one_pass_and_never_without_end(self) -> None:
        assert passes_reached(BOTH, NINETY, -5.0) == 1
        assert passes_reached(BOTH, NINETY, 1e9) == 10_000


def _taps_at(lead_s: float, faults: Faults) -> tuple[Pattern, Timeline, tuple[Tap, ...]]:
    pattern, timeline = pattern_of(SKIP_FIGURE), Timeline.steady(Fraction(80))
    take = simulate(lay_out(pattern, timeline, passes=6), faults, np.random.default_rng(2))
    return pattern, timeline, tuple(replace(tap, song_s=tap.song_s + lead_s) for tap in take.taps)


@pytest.mark.parametrize("lead_s", [0.75, 1.5, 3.137, 7.9, 42.0])
@pytest.mark.parametrize("faults", [Faults(jitter_s=0.01), Faults(jitter_s=0.02, touch_skips=0.4)])
def test_beat_0_is_found_behind_a_lead_in_without_a_mark(lead_s: float, faults: Faults) -> None:
    pattern, timeline, taps = _taps_at(lead_s, faults)
    found = found_elsewhere(pattern, timeline, taps, 0.0)
    assert found is not None
    assert found.offset_s == pytest.approx(lead_s, abs=0.06)


@pytest.mark.parametrize("lead_s", [0.0, 0.06, -0.05])
@pytest.mark.parametrize(
    "faults",
    [
        Faults(jitter_s=0.01),
        Faults(jitter_s=0.03, miss=0.15, stray=0.1),
        Faults(touch_skips=1.0, rush_gap_s=0.12),
    ],
)
def test_a_lean_or_faults_are_no_lead_in(lead_s: float, faults: Faults) -> None:
    pattern, timeline, taps = _taps_at(lead_s, faults)
    assert found_elsewhere(pattern, timeline, taps, 0.0) is None
