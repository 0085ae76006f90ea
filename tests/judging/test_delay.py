"""Delays from taps and from recordings, against scipy's statistics and players whose delay is known."""

import itertools
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from trainer.errors import BadTimes
from trainer.judging.delay import (
    BetweenClicks,
    DelayAnswer,
    DelayFound,
    NotHeard,
    TooFewTaps,
    TooSpread,
    find_delay,
    find_device_delay,
    median_interval,
    placements,
    settled,
)

GAP_S = 0.6
CLICKS = np.arange(40) * GAP_S
EXACT_S = 1e-12
Times = NDArray[np.float64]


def taps_of(seed: int, *, delay_s: float, jitter_s: float = 0.010, n: int = 20) -> Times:
    rng = np.random.default_rng(seed)
    return np.asarray(CLICKS[2 : 2 + n] + delay_s + rng.normal(0, jitter_s, n))


def found(answer: object) -> DelayFound:
    assert isinstance(answer, DelayFound), answer
    return answer


# Tapping along


def test_median_and_spread_are_those_of_scipy() -> None:
    taps = taps_of(1, delay_s=0.035, jitter_s=0.02)
    answer = found(find_delay(CLICKS, taps))
    errors = taps - CLICKS[2:22]
    assert answer.median_s == pytest.approx(float(np.median(errors)), abs=EXACT_S)
    assert answer.spread_s == pytest.approx(float(stats.iqr(errors)), abs=EXACT_S)
    assert (answer.n, answer.gap_s) == (20, pytest.approx(GAP_S))


@pytest.mark.parametrize("n", range(6, 60))
def test_the_interval_of_the_median_is_that_of_the_sign_test(n: int) -> None:
    """The k-th values from both ends, k from scipy's binomial: the values are their own ranks."""
    k = int(stats.binom.ppf(0.025, n, 0.5))
    # The largest k with P(B < k) <= 0.025, B ~ binomial(n, 1/2).
    while stats.binom.cdf(k, n, 0.5) <= 0.025:
        k += 1
    while k and stats.binom.cdf(k - 1, n, 0.5) > 0.025:
        k -= 1
    assert median_interval(np.arange(1, n + 1)) == (k, n + 1 - k)


def test_below_six_values_there_is_no_interval() -> None:
    """2 (1/2)^5 = 0.0625 is more than 0.05: not even the least and the largest will do."""
    assert median_interval([1.0, 2.0, 3.0, 4.0, 5.0]) is None
    assert median_interval([]) is None


def test_taps_forty_ms_early_are_early_and_steady_and_no_fault() -> None:
    """Aschersleben & Prinz 1995: taps lead clicks by 30 to 50 ms. Scatter as of trained tappers."""
    answer = found(find_delay(CLICKS, taps_of(2, delay_s=-0.040, jitter_s=0.010)))
    assert answer.median_s == pytest.approx(-0.040, abs=0.006)
    assert answer.is_steady


def test_taps_of_a_novice_are_found_but_not_called_steady() -> None:
    """Repp 2005, from memory: novices scatter by 4 % of the beat and more, here 5.5 %."""
    scatter = stats.norm.ppf((np.arange(30) + 0.5) / 30, scale=0.033)
    answer = found(find_delay(CLICKS, CLICKS[:30] + np.random.default_rng(3).permutation(scatter)))
    assert answer.spread_s == pytest.approx(1.349 * 0.033, rel=0.05)
    assert not answer.is_steady


@pytest.mark.parametrize("delay_s", [-0.12, -0.03, 0.0, 0.05, 0.12, 0.20, 0.23])
def test_a_delay_anywhere_it_can_be_is_found(delay_s: float) -> None:
    answer = found(find_delay(CLICKS, taps_of(4, delay_s=delay_s, jitter_s=0.015)))
    assert answer.median_s == pytest.approx(delay_s, abs=0.012)


def test_a_missed_click_moves_nothing() -> None:
    taps = taps_of(5, delay_s=0.05)
    answer = found(find_delay(CLICKS, np.delete(taps, [4, 5, 11])))
    assert answer.n == 17
    assert answer.median_s == pytest.approx(0.05, abs=0.006)


def test_a_double_tap_counts_once() -> None:
    taps = taps_of(6, delay_s=0.05)
    doubled = np.concatenate([taps, taps[3:6] + 0.110])
    assert find_delay(CLICKS, doubled) == find_delay(CLICKS, taps)


def test_the_first_taps_in_which_the_beat_is_found_are_left_out() -> None:
    taps = taps_of(7, delay_s=0.03)
    stumbling = taps.copy()
    stumbling[:3] += [0.21, -0.16, 0.11]
    answer = found(find_delay(CLICKS, stumbling))
    assert answer.n == 17
    assert answer == find_delay(CLICKS, taps[3:])


def test_a_stumble_later_on_stays_and_moves_the_median_little() -> None:
    placed = np.concatenate([np.full(15, 0.02), [0.2], np.full(4, 0.02)])
    assert len(settled(placed)) == 20
    assert found(find_delay(CLICKS, CLICKS[:20] + placed)).median_s == pytest.approx(0.02)


def test_few_placements_are_all_kept() -> None:
    few = np.array([0.3, 0.0, 0.01, 0.0, 0.01])
    assert np.array_equal(settled(few), few)


def test_fifteen_taps_are_too_few() -> None:
    assert find_delay(CLICKS, taps_of(8, delay_s=0.0, n=15)) == TooFewTaps(n=15, wanted=16)
    assert find_delay(CLICKS, []) == TooFewTaps(n=0, wanted=16)
    assert isinstance(find_delay(CLICKS, taps_of(8, delay_s=0.0, n=16)), DelayFound)


def test_taps_all_over_the_place_are_refused_with_their_spread() -> None:
    answer = find_delay(CLICKS, taps_of(9, delay_s=0.0, jitter_s=0.09, n=30))
    assert isinstance(answer, TooSpread)
    assert answer.most_s == 0.060
    assert 0.09 < answer.spread_s < 0.16  # 1.349 times 90 ms, give or take


@pytest.mark.parametrize("delay_s", [0.26, 0.30, 0.33, -0.20])
def test_taps_in_the_middle_between_clicks_are_refused(delay_s: float) -> None:
    answer = find_delay(CLICKS, taps_of(10, delay_s=delay_s))
    assert isinstance(answer, BetweenClicks)


def test_slower_clicks_tell_a_delay_that_faster_ones_cannot() -> None:
    slow = np.arange(40) * 1.0
    taps = slow[:20] + 0.28 + np.random.default_rng(11).normal(0, 0.01, 20)
    assert found(find_delay(slow, taps)).median_s == pytest.approx(0.28, abs=0.008)


@given(
    st.integers(0, 10_000),
    st.floats(-0.1, 0.2),
    st.floats(-1000, 1000),
)
def test_the_answer_does_not_hang_on_where_the_clock_begins(
    seed: int, delay_s: float, begin_s: float
) -> None:
    taps = taps_of(seed, delay_s=delay_s)
    here, there = found(find_delay(CLICKS, taps)), found(find_delay(CLICKS + begin_s, taps + begin_s))
    assert there.median_s == pytest.approx(here.median_s, abs=1e-9)
    assert there.n == here.n


@given(st.integers(0, 10_000))
def test_the_order_of_the_taps_does_not_matter(seed: int) -> None:
    taps = taps_of(seed, delay_s=0.02)
    shuffled = np.random.default_rng(seed).permutation(taps)
    assert find_delay(CLICKS, shuffled) == find_delay(CLICKS, taps)


def test_the_interval_holds_the_true_delay_in_at_least_95_of_100_cases() -> None:
    hits = 0
    for seed in range(400):
        interval = median_interval(placements(CLICKS, taps_of(seed, delay_s=0.05, jitter_s=0.02, n=16)))
        assert interval is not None
        hits += interval[0] <= 0.05 <= interval[1]
    # 95 % of 400 is 380; three standard deviations of the binomial below that are 367.
    assert hits >= 367


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: find_delay([0.0], [0.1]), "fewer than two clicks"),
        (lambda: placements([1.0, 1.0], [0.1]), "there are fewer than two clicks"),
        (lambda: find_delay(CLICKS, [0.1, np.nan]), "one of the taps has no time"),
        (lambda: find_delay([0.0, np.inf], [0.1]), "one of the clicks has no time"),
        (lambda: find_delay(CLICKS, np.arange(3000) * 0.01), "3000 taps are more than 2000"),
    ],
)
def test_times_that_are_none_are_refused(call: Callable[[], object], words: str) -> None:
    with pytest.raises(BadTimes, match=words):
        call()


# One recording


def heard_and_graded(
    seed: int,
    *,
    delay_s: float,
    microphone_s: float,
    habit_s: float = 0.3,
    jitter_s: float = 0.03,
    n: int = 14,
    begin_s: float = 3.7,
) -> dict[str, Times]:
    """What a perfect ear makes of a recording, and what the program made of the same taps.

    In the air a click sounds at its own second, and the program hears a tap ``delay_s`` late against it. The
    recording began ``begin_s`` before second 0 and is late by ``microphone_s`` throughout.
    """
    rng = np.random.default_rng(seed)
    clicks = np.arange(n + 2, dtype=np.float64) * np.float64(GAP_S)
    taps = clicks[:n] + habit_s + rng.normal(0, jitter_s, n)
    shift_s = begin_s + microphone_s
    return {
        "clicks_heard_s": clicks + shift_s,
        "knocks_heard_s": taps + shift_s,
        "clicks_s": clicks,
        "taps_s": taps + delay_s,
    }


def device_delay(heard: dict[str, NDArray[np.float64]]) -> DelayAnswer:
    return find_device_delay(
        clicks_heard_s=heard["clicks_heard_s"],
        knocks_heard_s=heard["knocks_heard_s"],
        clicks_s=heard["clicks_s"],
        taps_s=heard["taps_s"],
    )


@pytest.mark.parametrize("microphone_ms", range(0, 201, 20))
@pytest.mark.parametrize("delay_ms", [0, 8, 45, 180, 280])
def test_the_delay_of_the_microphone_cancels(microphone_ms: int, delay_ms: int) -> None:
    taken = heard_and_graded(1, delay_s=delay_ms / 1000, microphone_s=microphone_ms / 1000)
    answer = found(device_delay(taken))
    assert answer.median_s == pytest.approx(delay_ms / 1000, abs=1e-9)
    assert answer.n == 14


@pytest.mark.parametrize("habit_s", [-0.06, -0.02, 0.0, 0.05, 0.3])
def test_the_players_habit_is_not_in_it(habit_s: float) -> None:
    taken = heard_and_graded(2, delay_s=0.07, microphone_s=0.1, habit_s=habit_s)
    assert found(device_delay(taken)).median_s == pytest.approx(0.07, abs=1e-9)


def test_noises_and_gaps_in_what_was_heard_do_not_matter() -> None:
    taken = heard_and_graded(3, delay_s=0.05, microphone_s=0.12)
    rng = np.random.default_rng(3)
    taken["knocks_heard_s"] = np.concatenate(
        [np.delete(taken["knocks_heard_s"], [2, 7]), rng.uniform(3, 13, 20)]
    )
    taken["clicks_heard_s"] = np.concatenate(
        [np.delete(taken["clicks_heard_s"], [0, 5]), rng.uniform(3, 13, 6)]
    )
    answer = found(device_delay(taken))
    assert answer.median_s == pytest.approx(0.05, abs=0.0005)
    assert 12 <= answer.n <= 14


def test_keys_read_every_eight_ms_give_the_mean_of_the_reading() -> None:
    """A 125 Hz keyboard adds 0 to 8 ms, 4 on average (USB HID's interval)."""
    taken = heard_and_graded(4, delay_s=0.05, microphone_s=0.03)
    taken["taps_s"] = taken["taps_s"] + np.random.default_rng(4).uniform(0, 0.008, 14)
    assert found(device_delay(taken)).median_s == pytest.approx(0.054, abs=0.003)


def test_a_recording_whose_clock_runs_apart_by_a_part_in_five_thousand_will_do() -> None:
    taken = heard_and_graded(5, delay_s=0.05, microphone_s=0.1)
    for heard in ("clicks_heard_s", "knocks_heard_s"):
        taken[heard] = taken[heard] * 1.0002
    assert found(device_delay(taken)).median_s == pytest.approx(0.05, abs=0.001)


def test_too_few_taps_knocks_or_clicks_are_each_said() -> None:
    taken = heard_and_graded(6, delay_s=0.05, microphone_s=0.1)
    assert device_delay({**taken, "taps_s": taken["taps_s"][:7]}) == TooFewTaps(n=7, wanted=8)
    few = {**taken, "knocks_heard_s": taken["knocks_heard_s"][:3]}
    assert device_delay(few) == NotHeard(what="knock", n=3, wanted=8)
    silent = {**taken, "clicks_heard_s": np.empty(0)}
    assert device_delay(silent) == NotHeard(what="click", n=0, wanted=2)


def test_knocks_that_are_not_those_taps_are_refused() -> None:
    taken = heard_and_graded(7, delay_s=0.05, microphone_s=0.1, jitter_s=0.03)
    other = heard_and_graded(8, delay_s=0.05, microphone_s=0.1, jitter_s=0.12)
    answer = device_delay({**taken, "knocks_heard_s": other["knocks_heard_s"]})
    assert isinstance(answer, TooSpread | TooFewTaps | NotHeard)


def test_clicks_that_do_not_fit_any_likely_delay_are_not_taken_for_heard() -> None:
    taken = heard_and_graded(9, delay_s=0.05, microphone_s=0.1)
    lost = {**taken, "clicks_heard_s": np.array([500.0, 507.3])}
    assert device_delay(lost) == NotHeard(what="click", n=0, wanted=2)


def test_even_a_player_like_a_machine_is_measured_right() -> None:
    """Taps as even as the clicks fit the knocks in many ways; only one makes a likely delay."""
    for delay_s, microphone_s in itertools.product((0.0, 0.1, 0.25), (0.0, 0.2)):
        taken = heard_and_graded(10, delay_s=delay_s, microphone_s=microphone_s, jitter_s=0.0)
        assert found(device_delay(taken)).median_s == pytest.approx(delay_s, abs=1e-9)
