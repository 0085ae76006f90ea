"""From frames to host seconds: noise, late observations, stalls, and a device of another speed.

Source of the figures: a least-squares line over n points with noise of standard deviation sigma has, read
at its newest point, sd 2 sigma / sqrt(n) (any text on regression). With n = 512 and 300 microseconds that
is 26.5 for Gaussian jitter. One-sided lateness, exponential with a mean of 300, is cut at 1 ms above its
median: what is left has mean 278 and sd 251, so the line has a bias of 278 and sd 22.2.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from trainer.sound.clock_line import ClockLine

RATE, STEP, SIGMA_S = 48_000, 256, 300e-6
N, WINDOW = 2000, 512
BLOCK, BUFFER = 2048, 512
MICRO = 1e6


@dataclass(frozen=True, kw_only=True)
class Run:
    line: ClockLine
    errors_us: NDArray[np.float64]  # line at each newest frame, minus the true moment
    restarts: NDArray[np.int64]


def run(
    late_s: NDArray[np.float64],
    true_s: NDArray[np.floating] | None = None,
    *,
    step: int = STEP,
    buffer: int = STEP,
    blind_s: NDArray[np.float64] | None = None,
) -> Run:
    """Observe frames ``step`` apart with given lateness; without true moments the speed is nominal."""
    frames = np.arange(len(late_s)) * step
    true_s = frames / RATE + 100.0 if true_s is None else np.asarray(true_s, dtype=np.float64)
    blind_s = np.zeros(len(late_s)) if blind_s is None else blind_s
    line = ClockLine.started(0, true_s[0] + late_s[0], rate=RATE, buffer_frames=buffer)
    errors, restarts = [line.host_s(0) - true_s[0]], [0]
    for n in range(1, len(frames)):
        line = line.observed(int(frames[n]), true_s[n] + late_s[n], blind_s=blind_s[n])
        errors.append(line.host_s(frames[n]) - true_s[n])
        restarts.append(line.restarts)
    return Run(line=line, errors_us=np.array(errors) * MICRO, restarts=np.array(restarts))


def gaussian(seed: int, n: int = N) -> NDArray[np.float64]:
    return np.random.default_rng(seed).normal(0, SIGMA_S, n)


def test_gaussian_jitter_is_averaged_down_to_the_figure() -> None:
    sd_us = np.mean([run(gaussian(seed)).errors_us[WINDOW:].std() for seed in range(4)])
    assert sd_us == pytest.approx(26.5, rel=0.25)


def test_one_sided_lateness_leaves_its_mean_and_little_spread() -> None:
    runs = [run(np.random.default_rng(seed).exponential(SIGMA_S, N)).errors_us[WINDOW:] for seed in range(6)]
    assert np.mean([errors.std() for errors in runs]) == pytest.approx(22.2, rel=0.25)
    assert np.mean([errors.mean() for errors in runs]) == pytest.approx(278, abs=10)


def test_one_observation_twenty_milliseconds_late_moves_nothing() -> None:
    late = np.zeros(N)
    late[1000] = 0.020
    assert np.abs(run(late).errors_us).max() < 0.01


def test_after_a_stall_of_twenty_milliseconds_two_observations_are_off_and_no_more() -> None:
    jitter = gaussian(4)
    true_s = np.arange(N) * STEP / RATE + 100.0
    true_s[1000:] += 0.020
    result = run(jitter, true_s)
    assert (np.abs(result.errors_us) > 1000).sum() == 2
    assert result.errors_us[1002:1052].std() < 80
    assert result.restarts[1001] == 0
    assert result.restarts[1002] == result.line.restarts == 1


@pytest.mark.parametrize("seed", range(5))
def test_no_restart_in_fifteen_hundred_observations_without_a_stall(seed: int) -> None:
    late = np.random.default_rng(seed).exponential(SIGMA_S, 1500)
    assert run(late).line.restarts == 0


@pytest.mark.parametrize("uptime_s", [86_400.0, 30 * 86_400.0, 1.7e9])
def test_long_uptime_costs_no_precision(uptime_s: float) -> None:
    """Ten hours of sound; centred sums lose at most the last bit of the host second itself."""
    true_s = np.arange(600) * 60.0 + uptime_s
    line = run(np.zeros(600), true_s, step=60 * RATE).line
    bit_s = np.spacing(uptime_s)
    assert line.host_s(599 * 60 * RATE) == pytest.approx(true_s[-1], abs=2 * bit_s + 1e-9)
    assert line.frame(line.host_s(12_345.0)) == pytest.approx(12_345.0, abs=RATE * 3 * bit_s + 1e-3)


def test_the_speed_is_held_within_five_hundred_parts_in_a_million() -> None:
    """Two early observations 300 microseconds apart in lateness would say 5 % slow."""
    line = ClockLine.started(0, 100.0, rate=RATE, buffer_frames=STEP).observed(
        STEP, 100.0 + STEP / RATE + 3e-4
    )
    assert line.rate_error == pytest.approx(500e-6, rel=1e-6)


def test_a_card_a_hundred_parts_in_a_million_off_is_tracked_at_its_speed() -> None:
    true_s = np.arange(N) * STEP / RATE * (1 + 100e-6) + 100.0
    line = run(np.zeros(N), true_s).line
    assert line.rate_error == pytest.approx(100e-6, rel=1e-3)
    assert not line.follows


@pytest.mark.parametrize("speed", [1 / 1.052, 1 / 1.067, 1.04])
def test_a_device_of_plainly_another_speed_is_followed_and_reported(speed: float) -> None:
    """1.067 is what SDL's own pacing makes of 256 frames at 48 kHz: 5 ms in place of 5.33."""
    late = np.random.default_rng(6).normal(0, 100e-6, 400)
    true_s = np.arange(400, dtype=np.float64) * BLOCK / RATE * speed + 100.0
    result = run(late, true_s, step=BLOCK, buffer=BUFFER)
    assert result.line.follows
    assert result.line.rate_error == pytest.approx(speed - 1, abs=1e-4)
    settled = int(2 * RATE / BLOCK)
    assert np.abs(result.errors_us[settled:]).max() < 500
    assert result.line.restarts <= 1


def test_a_device_that_falls_out_of_its_speed_is_marked() -> None:
    true_s = np.arange(400) * BLOCK / RATE + 100.0
    true_s[200:] = true_s[199] + np.arange(1, 201) * BLOCK / RATE / 1.067
    result = run(np.zeros(400), true_s, step=BLOCK, buffer=BUFFER)
    assert result.line.restarts >= 1
    assert abs(result.line.rate_error) > 0.003


def test_a_stall_early_in_the_stream_is_no_other_speed() -> None:
    for at in (3, 4, 6, 10):
        true_s = np.arange(60) * BLOCK / RATE + 100.0
        true_s[at:] += 0.020
        result = run(np.zeros(60), true_s, step=BLOCK, buffer=BUFFER)
        assert not result.line.follows
        assert result.line.restarts == 1
        assert abs(result.errors_us[at + 3]) < 100


def test_observations_made_blindly_count_for_little() -> None:
    """A third of them come up to 10 ms late, and say so: the others decide."""
    rng = np.random.default_rng(8)
    late = np.full(400, 0.00025)
    blind = np.full(400, 0.0005)
    busy = rng.random(400) < 1 / 3
    blind[busy] = rng.uniform(0.002, 0.010, busy.sum())
    late[busy] = rng.uniform(0, blind[busy])
    result = run(late, step=BLOCK, buffer=BUFFER, blind_s=blind)
    assert np.abs(result.errors_us[20:]).max() < 100
    assert result.line.restarts == 0


def test_where_all_are_blind_the_line_still_holds_within_their_width() -> None:
    rng = np.random.default_rng(9)
    blind = rng.uniform(0.008, 0.012, 400)
    result = run(rng.uniform(0, blind), step=BLOCK, buffer=BUFFER, blind_s=blind)
    assert np.abs(result.errors_us[50:]).max() < 2500
    assert result.line.restarts == 0


def test_a_stall_that_the_caller_knows_of_begins_anew_at_once() -> None:
    line = run(np.zeros(100), step=BLOCK, buffer=BUFFER).line
    anew = line.started_anew(100 * BLOCK, 500.0)
    assert anew.host_s(100 * BLOCK) == 500.0
    assert anew.restarts == 1
    assert len(anew.points) == 1


def test_a_thread_that_fills_the_buffer_late_five_times_running_is_no_stall() -> None:
    """The device never stood still: what comes after is where it would have been, and that takes it back."""
    late = np.zeros(200)
    late[100:105] = 0.012
    result = run(late, step=BLOCK, buffer=BUFFER)
    assert result.restarts[102] == 1
    assert (result.restarts[105:] == 0).all()
    assert np.abs(result.errors_us[105:]).max() < 10


def test_a_stall_is_not_taken_back_by_what_was_only_seen_blindly() -> None:
    """Ten milliseconds of time lost for good, in looks that are up to 20 ms apart."""
    rng = np.random.default_rng(11)
    true_s = np.arange(300) * BLOCK / RATE + 100.0
    true_s[100:] += 0.010
    blind = rng.uniform(0.0005, 0.020, 300)
    blind[100:106] = 0.0005
    result = run(rng.uniform(0, blind), true_s, step=BLOCK, buffer=BUFFER, blind_s=blind)
    assert (result.restarts[103:] >= 1).all()


def test_a_second_stall_while_the_first_is_in_doubt_is_counted_and_both_can_be_taken_back() -> None:
    true_s = np.arange(200) * BLOCK / RATE + 100.0
    true_s[100:110] += 0.012
    true_s[104:110] += 0.012
    result = run(np.zeros(200), true_s, step=BLOCK, buffer=BUFFER)
    assert result.restarts[109] == 2
    assert result.line.restarts == 0
    assert np.abs(result.errors_us[110:]).max() < 10


def test_a_restart_that_went_too_far_is_not_counted_again() -> None:
    """The device stood still for 11 ms, and the three observations after that came 20 ms late besides."""
    true_s = np.arange(200) * BLOCK / RATE + 100.0
    true_s[100:] += 0.011
    late = np.zeros(200)
    late[100:103] = 0.020
    result = run(late, true_s, step=BLOCK, buffer=BUFFER)
    assert result.line.restarts == 1
    assert np.abs(result.errors_us[106:]).max() < 10


def test_observations_cannot_be_changed_from_outside() -> None:
    line = run(np.zeros(5)).line
    with pytest.raises(ValueError, match="read-only"):
        line.points[0, 0] = 1.0
