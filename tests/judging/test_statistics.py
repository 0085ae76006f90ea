"""Summaries of takes, against scipy."""

import dataclasses

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, tap, targets_of
from trainer.judging.statistics import by_slot, placement_of, student_quantile, summarise
from trainer.judging.take import Verdict
from trainer.judging.verdicts import judge
from trainer.music.strokes import Hand

PLACEMENTS = st.lists(st.integers(-200_000, 200_000).map(lambda us: us / 1e6), min_size=3, max_size=40)


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 5, 9, 10, 29, 100, 199, 200, 201, 1000])
@pytest.mark.parametrize("p", [0.6, 0.9, 0.975, 0.995])
def test_students_quantile_is_scipys(degrees: int, p: float) -> None:
    """Outside check: scipy.stats.t.ppf."""
    assert student_quantile(p, degrees) == pytest.approx(scipy.stats.t.ppf(p, degrees), abs=2e-6)


@given(PLACEMENTS)
def test_mean_spread_and_interval_are_scipys(placements: list[float]) -> None:
    """Outside check: numpy's mean and std, scipy.stats.t.interval."""
    placed = placement_of(placements)
    n = len(placements)
    assert placed.mean_s == pytest.approx(np.mean(placements), abs=1e-12)
    assert placed.spread_s == pytest.approx(np.std(placements, ddof=1), abs=1e-12)
    error = np.std(placements, ddof=1) / np.sqrt(n)
    assert placed.half_interval_s == pytest.approx(scipy.stats.t.ppf(0.975, n - 1) * error, abs=1e-9)


def test_too_few_taps_are_said_to_be_too_few() -> None:
    assert (placement_of([]).n, placement_of([]).mean_s) == (0, None)
    two = placement_of([0.010, 0.020])
    assert two.mean_s == pytest.approx(0.015)
    assert (two.spread_s, two.half_interval_s) == (None, None)


def test_steadily_late_is_a_place_not_a_spread() -> None:
    targets = targets_of(BASIC_FIGURE, passes=10)
    summary = summarise(judge(targets, as_asked(targets, late_s=0.025)))
    assert summary.placement.mean_s == pytest.approx(0.025, abs=1e-6)
    assert summary.placement.spread_s == pytest.approx(0.0, abs=1e-6)
    assert summary.clean_share == 1.0


def test_each_slot_is_summed_up_over_the_passes() -> None:
    targets = targets_of(SKIP_FIGURE, passes=5)
    taps = as_asked(targets)
    for n in range(0, len(taps), 3):
        taps[n] = dataclasses.replace(taps[n], song_s=taps[n].song_s - 0.2)
    taps.append(tap(targets[4].song_s, Hand.NAIL))
    slots = by_slot(judge(targets, taps))
    assert [s.slot for s in slots] == [0, 1, 2, 3]
    assert all(s.n == 5 for s in slots)
    assert dict(slots[0].counts) == {Verdict.KEPT_SILENT: 4, Verdict.TOUCHED: 1}
    assert slots[1].mean_s == pytest.approx(-0.2, abs=1e-6)
    assert slots[1].rushed_gaps == 5
    assert slots[2].mean_s == pytest.approx(0.0, abs=1e-6)


def test_what_is_not_judged_does_not_count_against_the_player() -> None:
    targets = targets_of("strike 3, hammer-on 3 fret 2, brush, thumb", passes=2)
    right_hand = [t for t in as_asked(targets) if t.hand is not Hand.LEFT]
    summary = summarise(judge(targets, right_hand))
    assert (summary.asked, summary.clean) == (6, 6)
    assert summarise(judge((), ())).clean_share is None
