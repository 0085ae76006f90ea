"""Clicks and knocks in recordings made of known moments, against scipy's correlation and filters."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import bilinear, correlate, freqz

from tests.sound.room import Room, calibration_clicks
from trainer.sound.clicks import Click, click_samples
from trainer.sound.knocks import find_clicks, find_knocks, without_clicks, without_hum

Wave = NDArray[np.float64]
BEGIN_S = 3.0
QUIET = Room(noise=0.0002, hum=0.0, echo_s=0.0)
LIVELY = Room(noise=0.003)


def recorded(room: Room, knocks_s: list[float], seed: int = 1, *, n: int = 14, polarity: int = 1) -> Wave:
    clicks = [(s + BEGIN_S, kind) for s, kind in calibration_clicks(n)]
    knocks = [k + BEGIN_S for k in knocks_s]
    rng = np.random.default_rng(seed)
    return room.record(rng, clicks, knocks, length_s=clicks[-1][0] + 1.0, polarity=polarity)


def errors_ms(found: NDArray[np.float64], true: list[float]) -> NDArray[np.float64]:
    """How far the nearest found time is from each true one."""
    return np.array([found[np.argmin(np.abs(found - t))] - t for t in true]) * 1000


def between(n: int = 14, seed: int = 2) -> list[float]:
    return [float(k * 0.6 + 0.3 + e) for k, e in enumerate(np.random.default_rng(seed).normal(0, 0.03, n))]


@pytest.mark.parametrize("rate", [44_100, 48_000, 22_050])
@pytest.mark.parametrize("polarity", [1, -1])
def test_every_click_is_found_to_a_tenth_of_a_millisecond(rate: int, polarity: int) -> None:
    room = Room(rate=rate, noise=0.003)
    wave = recorded(room, [], polarity=polarity)
    found = find_clicks(wave, rate)
    true = [s + BEGIN_S for s, _ in calibration_clicks(14)]
    assert np.array([c.time_s for c in found]) == pytest.approx(np.array(true), abs=1e-4)


def test_the_kinds_of_click_are_told_apart() -> None:
    found = find_clicks(recorded(LIVELY, between()), 48_000)
    assert [c.click for c in found] == [kind for _, kind in calibration_clicks(14)]


def test_the_peak_is_where_scipys_correlation_has_it() -> None:
    """Without filter, room and knocks: the matched filter is scipy.signal.correlate's maximum."""
    wave = np.zeros(48_000)
    sound = click_samples(Click.BEAT, -6.0, 48_000).astype(np.float64)
    wave[12_345 : 12_345 + len(sound)] += sound
    best = int(np.argmax(correlate(wave, sound, mode="valid")))
    (click,) = find_clicks(wave, 48_000)
    assert best == 12_345
    assert click.time_s == pytest.approx(best / 48_000, abs=1e-5)
    assert click.likeness == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("noise", [0.0005, 0.003, 0.01])
def test_knocks_between_clicks_are_found_well_within_a_millisecond(noise: float) -> None:
    knocks = between()
    wave = recorded(Room(noise=noise), knocks)
    clicks = find_clicks(wave, 48_000)
    found = find_knocks(without_clicks(wave, 48_000, clicks), 48_000)
    errors = errors_ms(found, [k + BEGIN_S for k in knocks])
    assert np.median(np.abs(errors)) < 0.3
    assert (np.abs(errors) < 1.0).mean() >= 0.85


@pytest.mark.parametrize("apart_ms", [-30, -8, -2, 2, 8, 30])
def test_a_knock_close_to_a_click_is_found_once_the_clicks_are_taken_out(apart_ms: int) -> None:
    rng = np.random.default_rng(7)
    # Scattered as a player's are: were they all alike, click and knock would be one sound.
    knocks = [k * 0.6 + apart_ms / 1000 + float(e) for k, e in enumerate(rng.normal(0, 0.012, 14))]
    wave = recorded(LIVELY, knocks)
    clicks = find_clicks(wave, 48_000)
    found = find_knocks(without_clicks(wave, 48_000, clicks), 48_000)
    errors = errors_ms(found, [k + BEGIN_S for k in knocks])
    assert np.median(np.abs(errors)) < 0.5


def test_taking_the_clicks_out_leaves_little_of_them_and_all_of_the_knocks() -> None:
    only_clicks, with_knocks = recorded(QUIET, []), recorded(QUIET, between())
    clicks = find_clicks(only_clicks, 48_000)
    left = without_clicks(only_clicks, 48_000, clicks)
    in_beat = [c for c in clicks if c.click is Click.BEAT]

    def power(wave: Wave) -> list[float]:
        return [float((wave[round(c.time_s * 48_000) :][:1500] ** 2).sum()) for c in in_beat]

    assert max(power(left)) < 0.01 * min(power(only_clicks))
    kept = without_clicks(with_knocks, 48_000, clicks)
    at = round((between()[5] + BEGIN_S) * 48_000)
    knock = slice(at, at + 500)
    assert (kept[knock] ** 2).sum() == pytest.approx((with_knocks[knock] ** 2).sum(), rel=0.05)


def test_a_kind_heard_fewer_than_four_times_is_left_in() -> None:
    wave = recorded(QUIET, [], n=2)
    clicks = [c for c in find_clicks(wave, 48_000) if c.click is Click.BEAT]
    assert len(clicks) == 1
    assert np.array_equal(without_clicks(wave, 48_000, clicks), wave)


def test_hum_alone_is_neither_click_nor_knock() -> None:
    t = np.arange(5 * 48_000) / 48_000
    hum = 0.3 * np.sin(2 * np.pi * 50 * t) + np.random.default_rng(3).normal(0, 0.001, len(t))
    assert find_clicks(hum, 48_000) == ()
    assert len(find_knocks(hum, 48_000)) == 0


@pytest.mark.parametrize("seed", range(5))
def test_noise_alone_is_no_click_and_no_knock(seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0, 0.1, 5 * 48_000)
    assert find_clicks(noise, 48_000) == ()
    assert len(find_knocks(noise, 48_000)) == 0


@pytest.mark.parametrize("frames", [0, 100, 48_000])
def test_nothing_is_heard_in_nothing(frames: int) -> None:
    wave = np.zeros(frames)
    assert find_clicks(wave, 48_000) == ()
    assert len(find_knocks(wave, 48_000)) == 0


def test_the_high_pass_is_causal() -> None:
    impulse = np.zeros(400)
    impulse[200] = 1.0
    through = without_hum(impulse, 48_000)
    assert not through[:200].any()
    assert through[200] != 0.0


def test_the_high_pass_is_the_one_it_says_it_is() -> None:
    """s / (s + 1/T) twice, by scipy's bilinear transform; alike where the ear of this program listens."""
    impulse = np.zeros(4096)
    impulse[0] = 1.0
    b, a = bilinear([1, 0], [1, 1 / 0.0003], fs=48_000)
    hz = np.array([50.0, 530.5, 1000.0, 3000.0])
    _, wanted = freqz(b, a, worN=hz, fs=48_000)
    found = np.exp(-2j * np.pi * np.outer(hz, np.arange(4096)) / 48_000) @ without_hum(impulse, 48_000)
    assert np.abs(found)[1:] == pytest.approx(np.abs(wanted)[1:] ** 2, rel=0.12)
    assert np.abs(found)[0] < 0.015  # 37 dB off a hum


def test_loudness_does_not_matter() -> None:
    wave = recorded(LIVELY, between())
    one, other = find_clicks(wave, 48_000), find_clicks(1000 * wave, 48_000)
    assert [c.time_s for c in one] == pytest.approx([c.time_s for c in other])
    assert find_knocks(wave, 48_000) == pytest.approx(find_knocks(1000 * wave, 48_000))
