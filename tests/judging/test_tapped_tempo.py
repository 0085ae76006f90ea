"""Tempo and beat 1 from taps along a track: simulated tappers, with numpy and scipy as outside checks."""

from fractions import Fraction

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import BadTimes
from trainer.judging.tapped_tempo import LEAST_TAPS, TappedTempo, UnclearTempo, tempo_of_taps


def tapper(
    bpm: float, taps: int = 32, *, beat_1_s: float = 2.0, sd_s: float = 0.015, seed: int = 0
) -> list[float]:
    rng = np.random.default_rng(seed)
    return sorted(float(beat_1_s + n * 60 / bpm + rng.normal(0, sd_s)) for n in range(taps))


def clear(taps_s: list[float]) -> TappedTempo:
    found = tempo_of_taps(taps_s)
    assert isinstance(found, TappedTempo), found
    return found


def unclear(taps_s: list[float]) -> str:
    found = tempo_of_taps(taps_s)
    assert isinstance(found, UnclearTempo), found
    return found.why


@settings(max_examples=60)
@given(st.floats(25, 380), st.floats(0, 30), st.integers(LEAST_TAPS, 80))
def test_exact_taps_give_the_exact_tempo(bpm: float, beat_1_s: float, taps: int) -> None:
    found = clear(tapper(bpm, taps, beat_1_s=beat_1_s, sd_s=0.0))
    assert float(found.bpm) == pytest.approx(bpm, abs=0.000501)
    assert found.beat_1_s == pytest.approx(beat_1_s, abs=1e-6)
    assert found.left_out == 0


def test_the_line_and_its_intervals_are_those_of_numpy_and_scipy() -> None:
    """Outside checks: numpy.polyfit for the line, scipy.stats.linregress for its standard errors."""
    taps = tapper(97.3, 40, sd_s=0.007, seed=1)
    found = clear(taps)
    assert found.left_out == 0
    n = np.arange(40)
    period_s, beat_1_s = np.polyfit(n, taps, 1)
    line = scipy.stats.linregress(n, taps)
    t = scipy.stats.t.ppf(0.975, 38)
    assert float(found.bpm) == pytest.approx(60 / period_s, abs=0.000501)
    assert found.beat_1_s == pytest.approx(beat_1_s)
    assert found.half_interval_bpm == pytest.approx(60 / period_s * t * line.stderr / line.slope)
    assert found.half_interval_s == pytest.approx(t * line.intercept_stderr)


def test_with_wrong_taps_the_tempo_stays_near_scipys_robust_line() -> None:
    """Outside check: scipy.stats.theilslopes over the true beat numbers, wrong taps and all."""
    taps = np.array(tapper(110, 40, seed=2))
    taps[[5, 13, 22, 30]] += [0.14, -0.15, 0.17, -0.12]
    slope = scipy.stats.theilslopes(taps, np.arange(40))
    found = clear([float(t) for t in taps])
    assert found.left_out == 4
    assert float(found.bpm) == pytest.approx(60 / slope.slope, rel=0.002)
    assert abs(float(found.bpm) - 110) < 2 * found.half_interval_bpm


def test_the_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """95 % of 400 simulated tappers, give or take what chance allows (binomial)."""
    found = [clear(tapper(100, 24, seed=seed)) for seed in range(400)]
    low, high = scipy.stats.binom.ppf([0.001, 0.9999], 400, 0.95)
    assert low <= sum(abs(float(f.bpm) - 100) <= f.half_interval_bpm + 0.0005 for f in found) <= high
    assert low <= sum(abs(f.beat_1_s - 2.0) <= f.half_interval_s for f in found) <= high


@pytest.mark.parametrize("left_out", [{3}, {7, 8}, {2, 5, 11, 17, 18, 25}, set(range(9, 20))])
def test_beats_left_out_are_counted_all_the_same(left_out: set[int]) -> None:
    taps = [t for n, t in enumerate(tapper(120, 32, seed=3)) if n not in left_out]
    found = clear(taps)
    assert abs(float(found.bpm) - 120) < 0.5
    assert abs(found.beat_1_s - 2.0) < 0.03


def test_a_tap_that_bounces_counts_once() -> None:
    taps = tapper(120, 24, seed=4)
    bounced = sorted([*taps, taps[3] + 0.02, taps[10] + 0.04, taps[11] + 0.03])
    found = clear(bounced)
    assert found.taps + found.left_out == 24
    assert abs(float(found.bpm) - 120) < 0.5


def test_a_player_who_goes_over_to_half_the_beats_keeps_the_tempo() -> None:
    taps = tapper(120, 40, seed=5)
    found = clear([t for n, t in enumerate(taps) if n < 22 or n % 2 == 0])
    assert abs(float(found.bpm) - 120) < 0.5


def test_a_wrong_first_tap_does_not_move_beat_1() -> None:
    taps = tapper(100, 24, seed=6)
    taps[0] += 0.15
    found = clear(taps)
    assert abs(found.beat_1_s - 2.0) < 0.03
    assert found.left_out == 1


@pytest.mark.parametrize("seed", range(20))
def test_taps_at_random_give_no_tempo(seed: int) -> None:
    rng = np.random.default_rng(seed)
    unclear([float(t) for t in np.cumsum(rng.uniform(0.2, 0.9, 30))])


def test_what_is_unclear_is_said_with_what_to_do() -> None:
    assert unclear([]) == "0 taps; tap at least 8 beats, from beat 1 on."
    assert unclear(tapper(100, 7)) == "7 taps; tap at least 8 beats, from beat 1 on."
    assert "is outside 20 to 400; tap twice or half as many beats" in unclear(tapper(12, 12))
    assert "go on tapping" in unclear(tapper(60, 8, sd_s=0.05, seed=8))
    assert "ms around an even beat of" in unclear(tapper(200, 60, sd_s=0.04, seed=9))


@pytest.mark.parametrize(("slow", "fast", "bpm"), [(16, 24, 200), (32, 8, 100)])
def test_one_who_goes_over_to_twice_the_beats_has_the_tempo_of_most_taps(
    slow: int, fast: int, bpm: int
) -> None:
    taps = tapper(100, slow, sd_s=0.005) + tapper(200, fast, beat_1_s=2.0 + slow * 0.6, sd_s=0.005)
    assert abs(float(clear(taps).bpm) - bpm) < 0.5


def test_times_that_run_backwards_are_refused() -> None:
    with pytest.raises(BadTimes, match=r"tap 3 has the time 0\.5; give finite times in ascending order"):
        tempo_of_taps([0.0, 1.0, 0.5])
    with pytest.raises(BadTimes, match="tap 2 has the time nan"):
        tempo_of_taps([0.0, float("nan")])


def test_the_beats_can_be_counted_twice_or_half_as_often() -> None:
    found = clear(tapper(60, 24))
    assert found.times(Fraction(2)).bpm == 2 * found.bpm
    assert found.times(Fraction(1, 2)).beat_1_s == found.beat_1_s
    assert found.times(Fraction(2)).error_after_s(100) == pytest.approx(found.error_after_s(100))


def test_the_error_grows_with_the_way_from_beat_1() -> None:
    """Source: relative error of the tempo times the seconds, on top of that of beat 1."""
    found = clear(tapper(100, 24))
    late = found.error_after_s(200) - found.error_after_s(0)
    assert late == pytest.approx(200 * found.half_interval_bpm / float(found.bpm))
    assert found.words.startswith(f"{float(found.bpm):.2f} beats a minute, give or take 0.")
