"""Timekeeper and hand: worked values of the models, and the refusals."""

import dataclasses
import itertools
from functools import cache

import numpy as np
import pytest

from tests.judging.helpers import as_asked, targets_of
from trainer.judging.take import Judgement, Tap
from trainer.judging.two_level import (
    LEAST_INTERVALS,
    CannotSplit,
    Obstacle,
    TwoLevels,
    from_autocovariances,
    split_asynchronies,
    split_click_off,
    split_intervals,
    split_with_click,
)
from trainer.judging.verdicts import judge
from trainer.music.layout import Target
from trainer.practice.faults import Faults
from trainer.practice.hands import hand_asynchrony, simulate

CLOCK_S, MOTOR_S = 0.020, 0.010
SKIPLESS = "strike 3, thumb, brush, thumb"
BASIC = "strike 3, rest, brush, thumb"


def intervals(
    n: int, rng: np.random.Generator, clock: float = CLOCK_S, motor: float = MOTOR_S
) -> list[float]:
    """Intervals of the model as it is written: I[j] = C[j] + M[j+1] - M[j]."""
    delays = motor * rng.standard_normal(n + 1)
    return list(0.5 + clock * rng.standard_normal(n) + np.diff(delays))


def test_long_stretches_give_back_both_levels() -> None:
    """Worked value: sd 20 and 10 ms have lag-1 correlation -100/600 (Wing & Kristofferson 1973)."""
    found = split_intervals(intervals(100_000, np.random.default_rng(1)))
    assert isinstance(found, TwoLevels)
    assert found.lag1 == pytest.approx(-1 / 6, abs=0.01)
    assert found.clock_sd_s == pytest.approx(CLOCK_S, rel=0.02)
    assert found.motor_sd_s == pytest.approx(MOTOR_S, rel=0.03)
    assert found.correction is None


def test_thirty_intervals_cannot_be_split_about_one_time_in_six() -> None:
    """By simulation of the model: 17 % of runs of 30 have a correlation outside -0.5 to 0."""
    rng = np.random.default_rng(2)
    found = [split_intervals(intervals(30, rng)) for _ in range(3000)]
    refused = [f for f in found if isinstance(f, CannotSplit)]
    assert all(f.obstacle is Obstacle.CORRELATION for f in refused)
    assert len(refused) / len(found) == pytest.approx(0.17, abs=0.03)
    assert all(f.lag1 is not None and not -0.5 <= f.lag1 <= 0 for f in refused)


def test_too_few_intervals_are_not_split() -> None:
    rng = np.random.default_rng(3)
    assert split_intervals(intervals(LEAST_INTERVALS - 1, rng)) == CannotSplit(
        obstacle=Obstacle.TOO_FEW, n=LEAST_INTERVALS - 1
    )
    assert split_intervals([]) == CannotSplit(obstacle=Obstacle.TOO_FEW, n=0)


def test_intervals_all_alike_have_nothing_to_split() -> None:
    found = split_intervals([0.5] * 40)
    assert found == CannotSplit(obstacle=Obstacle.CORRELATION, n=40, lag1=0.0)


# Worked values for sd_T = 20 and sd_M = 10 ms, in square milliseconds: Vorberg & Wing 1996, re-derived.
WORKED = [(0.25, 1028.57, 671.43), (0.5, 666.67, 233.33), (1.0, 600.0, -100.0), (1.5, 933.33, -566.67)]


@pytest.mark.parametrize(("alpha", "g0", "g1"), WORKED)
def test_phase_correction_is_recovered_from_the_worked_autocovariances(
    alpha: float, g0: float, g1: float
) -> None:
    found = from_autocovariances(g0 / 1e6, g1 / 1e6, (1 - alpha) * g1 / 1e6, n=10_000)
    assert isinstance(found, TwoLevels)
    assert found.correction == pytest.approx(alpha)
    assert found.clock_sd_s == pytest.approx(CLOCK_S, abs=2e-6)
    assert found.motor_sd_s == pytest.approx(MOTOR_S, abs=2e-6)


@cache
def very_long_targets() -> tuple[Target, ...]:
    return targets_of(SKIPLESS, bpm=120, passes=50_000)


@pytest.mark.parametrize(("alpha", "g0", "g1"), WORKED)
def test_a_long_simulated_hand_has_the_worked_autocovariances_and_is_recovered(
    alpha: float, g0: float, g1: float
) -> None:
    faults = Faults(clock_sd_s=CLOCK_S, motor_sd_s=MOTOR_S, correction=alpha)
    asynchronies = hand_asynchrony(very_long_targets(), faults, np.random.default_rng(4))
    assert np.var(asynchronies) * 1e6 == pytest.approx(g0, rel=0.02)
    assert np.mean(asynchronies[1:] * asynchronies[:-1]) * 1e6 == pytest.approx(g1, abs=0.02 * g0)
    found = split_asynchronies([float(a) for a in asynchronies])
    assert isinstance(found, TwoLevels)
    assert found.correction == pytest.approx(alpha, abs=0.06)
    assert found.clock_sd_s == pytest.approx(CLOCK_S, rel=0.1)
    assert found.motor_sd_s == pytest.approx(MOTOR_S, rel=0.15)


def test_without_a_click_model_a_corrected_take_would_be_read_wrongly_and_is_refused() -> None:
    """Worked value: full correction gives intervals a correlation of -0.571, below the model's -0.5."""
    targets = targets_of(SKIPLESS, bpm=120, passes=5_000)
    faults = Faults(clock_sd_s=CLOCK_S, motor_sd_s=MOTOR_S, correction=1.0)
    asynchronies = hand_asynchrony(targets, faults, np.random.default_rng(5))
    found = split_intervals([float(i) for i in 0.25 + np.diff(asynchronies)])
    assert isinstance(found, CannotSplit)
    assert found.lag1 == pytest.approx(-0.571, abs=0.01)


def test_asynchronies_that_do_not_hang_together_are_not_split() -> None:
    rng = np.random.default_rng(6)
    found = split_asynchronies([float(a) for a in 0.01 * rng.standard_normal(200)])
    assert isinstance(found, CannotSplit)
    assert found.obstacle in (Obstacle.UNCLEAR, Obstacle.CORRELATION)
    assert split_asynchronies([0.0] * 59) == CannotSplit(obstacle=Obstacle.TOO_FEW, n=59)
    assert isinstance(split_asynchronies([0.01] * 100), CannotSplit)


def test_numbers_no_correction_could_make_are_refused() -> None:
    assert from_autocovariances(1.0, 0.5, 0.6, n=1000) == CannotSplit(
        obstacle=Obstacle.CORRELATION, n=1000, lag1=0.5
    )
    assert isinstance(from_autocovariances(1.0, 0.9, 0.1, n=1000), CannotSplit)
    assert isinstance(from_autocovariances(1.0, 0.5, 0.25, n=10), CannotSplit)


def free_take(bars: str, passes: int, seed: int, *, bpm: int = 120) -> Judgement:
    """A take that wanders as the model without a click says, brought back every 20 strokes.

    Without a click a hand wanders ever further; each stretch of eight passes begins in place.
    """
    targets = targets_of(bars, bpm=bpm, passes=passes)
    rng = np.random.default_rng(seed)
    taps: list[Tap] = []
    for first in range(0, passes, 8):
        piece = [t for t in targets if first <= t.pass_index < first + 8]
        taps += simulate(piece, Faults(clock_sd_s=0.006, motor_sd_s=0.006, correction=0.0), rng).taps
    return judge(targets, taps)


def stretches(judgement: Judgement, passes: int) -> list[tuple[float, float]]:
    starts = [min(o.target.song_s for o in judgement.outcomes if o.target.pass_index == p)
              for p in range(0, passes, 8)]  # fmt: skip
    return [(a, b - 1e-6) for a, b in itertools.pairwise([*starts, 1e9])]


@pytest.mark.parametrize("bars", [SKIPLESS, BASIC])
def test_stretches_without_a_click_are_split_together_rests_or_no_rests(bars: str) -> None:
    judgement = free_take(bars, 800, 7)
    found = split_click_off(judgement, stretches(judgement, 800))
    assert isinstance(found, TwoLevels)
    assert found.clock_sd_s == pytest.approx(0.006, rel=0.08)
    assert found.motor_sd_s == pytest.approx(0.006, rel=0.08)


def test_a_missed_stroke_breaks_the_chain_and_a_leaning_kind_is_no_noise() -> None:
    judgement = free_take(SKIPLESS, 800, 8)
    targets = tuple(o.target for o in judgement.outcomes)
    leaning = [
        dataclasses.replace(tap, song_s=tap.song_s + (0.015 if n % 4 == 2 else 0.0))
        for n, tap in enumerate(judgement.taps)
        if n % 37
    ]
    found = split_click_off(judge(targets, leaning), stretches(judgement, 800))
    assert isinstance(found, TwoLevels)
    assert found.clock_sd_s == pytest.approx(0.006, rel=0.1)
    assert found.motor_sd_s == pytest.approx(0.006, rel=0.1)


def test_outside_the_stretches_nothing_counts() -> None:
    targets = targets_of(SKIPLESS, passes=20)
    found = split_click_off(judge(targets, as_asked(targets)), [(0.0, 4.0)])
    assert found == CannotSplit(obstacle=Obstacle.TOO_FEW, n=8)


def test_with_a_click_a_judged_take_gives_back_the_correction() -> None:
    targets = targets_of(BASIC, bpm=100, passes=4000)
    faults = Faults(clock_sd_s=0.008, motor_sd_s=0.004, correction=0.4)
    taps = simulate(targets, faults, np.random.default_rng(9)).taps
    found = split_with_click(judge(targets, taps))
    assert isinstance(found, TwoLevels)
    assert found.correction == pytest.approx(0.4, abs=0.08)
    assert found.clock_sd_s == pytest.approx(0.008, rel=0.1)
    assert split_with_click(judge((), ())) == CannotSplit(obstacle=Obstacle.TOO_FEW, n=0)
