"""The swing that was played, on takes whose swing is known."""

from fractions import Fraction

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.judging.breakdown import break_down
from trainer.judging.swing import SwingPlayed, adopt, median_interval, swing_played
from trainer.judging.take import Judgement
from trainer.judging.verdicts import judge
from trainer.music.layout import NO_FEEL, Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate

UPS_AND_DOWNS = "strike 3, thumb, brush, thumb"
JITTER = Faults(jitter_s=0.012)


def played(
    pattern: Pattern,
    swing: Fraction,
    faults: Faults = JITTER,
    *,
    judged: Feel = NO_FEEL,
    bpm: int = 90,
    passes: int = 20,
    seed: int = 1,
) -> Judgement:
    """A take of a player who swings, judged against another feel."""
    timeline = Timeline.steady(bpm)
    meant = lay_out(pattern, timeline, passes=passes, feel=Feel(swing=swing))
    taps = simulate(meant, faults, np.random.default_rng(seed)).taps
    return judge(lay_out(pattern, timeline, passes=passes, feel=judged), taps)


def measured(pattern: Pattern, swing: Fraction, **more: object) -> SwingPlayed:
    found = swing_played(played(pattern, swing, **more), pattern)  # type: ignore[arg-type]
    assert found is not None
    return found


@pytest.mark.parametrize("bars", [UPS_AND_DOWNS, BASIC_FIGURE, SKIP_FIGURE])
@pytest.mark.parametrize("ratio", ["1", "3/2", "2", "3"])
def test_the_ratio_played_is_found_on_a_straight_grid(ratio: str, bars: str) -> None:
    pattern = pattern_of(bars)
    found = measured(pattern, Fraction(ratio), passes=30)
    assert found.low <= float(Fraction(ratio)) <= found.high
    assert found.ratio == pytest.approx(float(Fraction(ratio)), rel=0.12)


def test_the_interval_holds_the_ratio_about_nineteen_times_in_twenty() -> None:
    pattern = pattern_of(UPS_AND_DOWNS)
    inside = 0
    for seed in range(200):
        found = measured(pattern, Fraction(2), seed=seed)
        inside += found.low <= 2.0 <= found.high
    assert inside >= 180


def test_two_to_one_on_a_straight_grid_at_120_is_83_ms_late_on_each_off_beat() -> None:
    """Worked value: pair of 500 ms, off-beat at 2/3 instead of 1/2 (Friberg & Sundstrom 2002's ratio)."""
    pattern = pattern_of(UPS_AND_DOWNS)
    judgement = played(pattern, Fraction(2), Faults(), bpm=120)
    kinds = dict(break_down(judgement).by_kind)
    assert kinds[Kind.THUMB].placement.mean_s == pytest.approx(0.083333, abs=1e-6)
    assert kinds[Kind.STRIKE].placement.mean_s == pytest.approx(0.0, abs=1e-6)
    found = swing_played(judgement, pattern)
    assert found is not None
    assert found.ratio == pytest.approx(2.0, abs=1e-4)


def test_judged_with_the_swing_adopted_the_off_beats_are_in_place() -> None:
    pattern = pattern_of(UPS_AND_DOWNS)
    found = measured(pattern, Fraction(2), faults=Faults())
    feel = adopt(Feel(layback_s=((Kind.BRUSH, 0.01),)), found)
    assert feel == Feel(swing=Fraction(2), layback_s=((Kind.BRUSH, 0.01),))
    again = played(pattern, Fraction(2), Faults(), judged=Feel(swing=Fraction(2)))
    assert all(o.placement_s == pytest.approx(0.0, abs=2e-6) for o in again.outcomes)
    once_more = swing_played(again, pattern)
    assert once_more is not None
    assert once_more.ratio == pytest.approx(2.0, abs=1e-4)


def test_a_steady_lead_and_a_drift_are_no_swing() -> None:
    pattern = pattern_of(UPS_AND_DOWNS)
    lean = tuple((k, -0.04) for k in (Kind.STRIKE, Kind.BRUSH, Kind.THUMB))
    found = measured(pattern, Fraction(1), faults=Faults(jitter_s=0.01, lean_s=lean, drift=0.004))
    assert found.is_straight
    assert found.adopted() == 1


def test_a_rushed_gap_is_no_swing() -> None:
    pattern = pattern_of(SKIP_FIGURE)
    found = measured(pattern, Fraction(1), faults=Faults(jitter_s=0.01, rush_gap_s=0.08))
    assert found.is_straight


def test_a_few_wild_taps_do_not_move_the_ratio() -> None:
    pattern = pattern_of(UPS_AND_DOWNS)
    steady = measured(pattern, Fraction(2), faults=Faults(jitter_s=0.008))
    wild = measured(pattern, Fraction(2), faults=Faults(jitter_s=0.008, stray=0.08, miss=0.08))
    assert wild.ratio == pytest.approx(steady.ratio, rel=0.05)


def test_too_few_pairs_and_slots_in_threes_have_no_ratio() -> None:
    pattern = pattern_of(UPS_AND_DOWNS)
    assert swing_played(played(pattern, Fraction(1), passes=3), pattern) is None
    assert swing_played(judge((), ()), pattern) is None
    threes = pattern_of("strike 3, strike 2, thumb, brush, strike 2, thumb", slots_per_beat=3)
    assert swing_played(played(threes, Fraction(1)), threes) is None


def test_a_ratio_no_target_can_have_is_not_adopted() -> None:
    early = SwingPlayed(pairs=20, ratio=0.8, low=0.75, high=0.85)
    long = SwingPlayed(pairs=20, ratio=4.4, low=4.2, high=4.6)
    assert (adopt(NO_FEEL, early), adopt(NO_FEEL, long)) == (None, None)
    swung = SwingPlayed(pairs=20, ratio=1.504, low=1.4, high=1.6)
    assert adopt(NO_FEEL, swung) == Feel(swing=Fraction(3, 2))


@given(st.lists(st.integers(-500, 500).map(float), min_size=6, max_size=200, unique=True))
def test_the_medians_interval_is_scipys(values: list[float]) -> None:
    """Outside check: scipy.stats.quantile_test's exact interval for the median."""
    low, middle, high = median_interval(values)
    theirs = scipy.stats.quantile_test(values, p=0.5).confidence_interval(0.95)
    assert (low, high) == (theirs.low, theirs.high)
    assert middle == pytest.approx(np.median(values))


def test_with_thousands_of_pairs_the_interval_is_scipys_within_one_rank() -> None:
    """Outside check as above; past 999 values a normal approximation counts the ranks."""
    values = [float(k) for k in range(3000)]
    low, _, high = median_interval(values)
    theirs = scipy.stats.quantile_test(values, p=0.5).confidence_interval(0.95)
    assert low == pytest.approx(theirs.low, abs=1)
    assert high == pytest.approx(theirs.high, abs=1)
