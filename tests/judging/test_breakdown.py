"""A take apart: by kind, string, bar, gap, time and loudness, against scipy and by hand."""

import dataclasses

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, tap, targets_of
from trainer.judging.breakdown import Breakdown, break_down, group, robust_spread
from trainer.judging.chance import batch_means
from trainer.judging.take import Tap
from trainer.judging.verdicts import judge
from trainer.music.strokes import Hand, Kind
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate

TIME_S = 1e-6
MIXED = (BASIC_FIGURE, SKIP_FIGURE)


def parts_of(faults: Faults, *bars: str, passes: int = 20, bpm: int = 100, seed: int = 1) -> Breakdown:
    targets = targets_of(*bars, passes=passes, bpm=bpm)
    return break_down(judge(targets, simulate(targets, faults, np.random.default_rng(seed)).taps))


def test_each_kind_sits_where_it_was_put() -> None:
    lean = ((Kind.STRIKE, 0.010), (Kind.BRUSH, -0.020), (Kind.THUMB, 0.005))
    kinds = dict(parts_of(Faults(lean_s=lean), BASIC_FIGURE).by_kind)
    assert list(kinds) == [Kind.STRIKE, Kind.BRUSH, Kind.THUMB]
    for kind, seconds in lean:
        assert kinds[kind].placement.mean_s == pytest.approx(seconds, abs=TIME_S)
        assert kinds[kind].median_s == pytest.approx(seconds, abs=TIME_S)
        assert kinds[kind].robust_spread_s == pytest.approx(0.0, abs=2 * TIME_S)
        assert kinds[kind].placement.n == 20


def test_strings_and_bars_have_their_own_places_and_a_brush_is_on_no_one_string() -> None:
    targets = targets_of("strike 3, rest, brush, thumb", "strike 1, rest, brush, thumb", passes=5)
    taps = [
        dataclasses.replace(t, song_s=t.song_s + (0.02 if t.string == 1 else 0.0)) for t in as_asked(targets)
    ]
    parts = break_down(judge(targets, taps))
    strings = dict(parts.by_string)
    assert list(strings) == [1, 3, 5]
    assert strings[1].placement.mean_s == pytest.approx(0.02, abs=TIME_S)
    assert strings[3].placement.mean_s == pytest.approx(0.0, abs=TIME_S)
    assert [(bar, g.placement.n) for bar, g in parts.by_bar] == [(0, 15), (1, 15)]
    assert parts.by_bar[1][1].placement.mean_s == pytest.approx(0.02 / 3, abs=TIME_S)


def test_strokes_after_a_skip_stand_apart_from_the_rest() -> None:
    parts = parts_of(Faults(rush_gap_s=0.045), *MIXED)
    assert parts.after_skip.placement.mean_s == pytest.approx(-0.045, abs=TIME_S)
    assert parts.elsewhere.placement.mean_s == pytest.approx(0.0, abs=TIME_S)
    assert (parts.after_skip.placement.n, parts.elsewhere.placement.n) == (20, 100)


def test_a_gap_is_a_share_of_the_way_asked_from_tap_to_tap() -> None:
    """By hand: at 60 bpm thumb to drop-thumb over the skip is 1 s; 100 ms early leaves 0.9 of it."""
    gaps = parts_of(Faults(rush_gap_s=0.100), SKIP_FIGURE, bpm=60, passes=4).gaps
    assert [gap.after_index for gap in gaps.gaps] == [5, 9, 13], "nothing is before the first skip"
    assert [gap.nominal_s for gap in gaps.gaps] == pytest.approx([1.0] * 3)
    assert [gap.share for gap in gaps.gaps] == pytest.approx([0.9] * 3)
    assert gaps.mean_share == pytest.approx(0.9)
    assert gaps.median_share == pytest.approx(0.9)
    assert gaps.half_interval == pytest.approx(0.0, abs=1e-9)


def test_a_steady_lead_leaves_gaps_whole_and_a_missed_end_leaves_none() -> None:
    targets = targets_of(SKIP_FIGURE, passes=3)
    early = [dataclasses.replace(t, song_s=t.song_s - 0.05) for t in as_asked(targets)]
    assert break_down(judge(targets, early)).gaps.median_share == pytest.approx(1.0)
    without_drop = [t for t in early if t.string != 2]
    gaps = break_down(judge(targets, without_drop)).gaps
    assert (gaps.gaps, gaps.mean_share, gaps.median_share) == ((), None, None)


def test_two_skips_in_a_row_are_one_gap() -> None:
    targets = targets_of("strike 3, rest, skip, rest", "skip, drop-thumb 2, brush, thumb", bpm=60)
    (gap,) = break_down(judge(targets, as_asked(targets))).gaps.gaps
    assert gap.nominal_s == pytest.approx(2.5)


def test_drift_is_scipys_regression_over_the_means_of_eight_stretches() -> None:
    """Outside check: scipy.stats.linregress."""
    targets = targets_of("strike 3, rest, rest, rest", passes=64, bpm=60)
    rng = np.random.default_rng(2)
    late = 0.001 * np.arange(64) + 0.01 * rng.standard_normal(64)
    taps = [tap(t.song_s + float(d), Hand.NAIL) for t, d in zip(targets[::4], late, strict=True)]
    drift = break_down(judge(targets, taps)).drift
    assert drift is not None
    result = scipy.stats.linregress(
        batch_means([t.song_s for t in targets[::4]]), late.round(6).reshape(8, 8).mean(axis=1)
    )
    assert drift.s_per_minute == pytest.approx(60 * result.slope, abs=1e-6)
    half = scipy.stats.t.ppf(0.975, 6) * result.stderr
    assert drift.half_interval_s_per_minute == pytest.approx(60 * half, rel=1e-3)
    assert drift.probability == pytest.approx(result.pvalue, rel=1e-3)
    assert drift.moved_s == pytest.approx(result.slope * 126, rel=1e-4)


def test_the_interval_of_the_drift_holds_for_a_hand_that_follows_the_click() -> None:
    """What is carried from stroke to stroke would fool a regression over single strokes."""
    faults = Faults(clock_sd_s=0.010, motor_sd_s=0.004, correction=0.3)
    held = 0
    for seed in range(150):
        drift = parts_of(faults, BASIC_FIGURE, passes=40, seed=seed).drift
        assert drift is not None
        held += abs(drift.s_per_minute) <= drift.half_interval_s_per_minute
    assert held >= 0.9 * 150


def test_kinds_apart_are_no_drift_whatever_the_take_ends_with() -> None:
    targets = targets_of(BASIC_FIGURE, passes=8)
    taps = [
        dataclasses.replace(t, song_s=t.song_s + (0.04 if t.hand is Hand.THUMB else 0.0))
        for t in as_asked(targets)
    ]
    kept = [t for n, t in enumerate(taps) if t.hand is not Hand.THUMB or n > 12]
    drift = break_down(judge(targets, kept)).drift
    assert drift is not None
    assert drift.s_per_minute == pytest.approx(0.0, abs=1e-6)


def test_accents_and_strikes_are_louder_by_so_much() -> None:
    """Outside check: scipy.stats.ttest_ind on the same velocities."""
    bars = ("accented strike 3, rest, brush, thumb", "strike 3, rest, accented brush, thumb")
    targets = targets_of(*bars, passes=6)
    rng = np.random.default_rng(4)
    taps = []
    for t in as_asked(targets):
        accented = next(x for x in targets if x.song_s == t.song_s).stroke.accented
        velocity = int(rng.integers(95, 105) if accented else rng.integers(70, 80))
        taps.append(dataclasses.replace(t, velocity=velocity))
    dynamics = break_down(judge(targets, taps)).dynamics
    assert dynamics is not None
    assert dynamics.accents is not None
    assert dynamics.strikes is not None
    sounding = [t for t in targets if t.stroke.kind.sounds]
    loud = [x.velocity or 0 for x, t in zip(taps, sounding, strict=True) if t.stroke.accented]
    soft = [x.velocity or 0 for x, t in zip(taps, sounding, strict=True) if not t.stroke.accented]
    result = scipy.stats.ttest_ind(loud, soft, equal_var=False)
    assert dynamics.accents.size == pytest.approx(np.mean(loud) - np.mean(soft))
    interval = result.confidence_interval(0.95)
    assert dynamics.accents.half_interval == pytest.approx((interval.high - interval.low) / 2, rel=0.02)
    assert (dynamics.strikes.n, dynamics.strikes.n_other) == (6, 6)


def test_without_velocities_or_with_too_few_accents_nothing_is_said_of_loudness() -> None:
    targets = targets_of("accented strike 3, rest, brush, thumb", passes=2)
    silent = break_down(judge(targets, as_asked(targets)))
    assert silent.dynamics is None
    loud = [dataclasses.replace(t, velocity=90) for t in as_asked(targets)]
    dynamics = break_down(judge(targets, loud)).dynamics
    assert dynamics is not None
    assert (dynamics.accents, dynamics.strikes) == (None, None)


def test_a_take_without_taps_has_no_numbers() -> None:
    taps: tuple[Tap, ...] = ()
    parts = break_down(judge(targets_of(SKIP_FIGURE), taps))
    assert (parts.by_kind, parts.by_string, parts.by_bar) == ((), (), ())
    assert (parts.drift, parts.dynamics, parts.gaps.gaps) == (None, None, ())
    assert (parts.after_skip.median_s, parts.after_skip.robust_spread_s) == (None, None)


def test_one_slip_moves_the_mean_but_not_the_median_nor_the_robust_spread() -> None:
    targets = targets_of("strike 3, rest, brush, thumb", passes=21)
    taps = [
        dataclasses.replace(t, song_s=t.song_s + 0.002 * (n % 3)) for n, t in enumerate(as_asked(targets))
    ]
    slipped = [dataclasses.replace(taps[0], song_s=taps[0].song_s + 0.2), *taps[1:]]
    steady, odd = (group(judge(targets, played).outcomes) for played in (taps, slipped))
    assert steady.median_s == odd.median_s
    assert steady.robust_spread_s == odd.robust_spread_s
    assert odd.placement.spread_s is not None
    assert steady.placement.spread_s is not None
    assert odd.placement.spread_s > 5 * steady.placement.spread_s


@given(st.lists(st.integers(-200_000, 200_000).map(lambda us: us / 1e6), min_size=1, max_size=40))
def test_the_robust_spread_is_scipys(values: list[float]) -> None:
    """Outside check: scipy.stats.median_abs_deviation, scaled to the normal distribution."""
    theirs = scipy.stats.median_abs_deviation(values, scale="normal")
    assert robust_spread(values) == pytest.approx(theirs, rel=1e-4, abs=1e-9)
