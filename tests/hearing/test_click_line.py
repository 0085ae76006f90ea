"""The line through the clicks that were heard: tempo, beat 0 and jumps."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import linregress

from tests.hearing.conftest import Make
from trainer.hearing.bands import RATE
from trainer.hearing.click_line import click_line
from trainer.sound.clicks import Click, ClickVoice
from trainer.sound.knocks import BEATS, HeardClick, find_clicks


def clicks_at(times: np.ndarray, *, count_in: int = 2, bar: int = 2) -> list[HeardClick]:
    kinds = [Click.COUNT_IN_FIRST, *[Click.COUNT_IN] * (count_in - 1)]
    kinds += [Click.FIRST_BEAT if n % bar == 0 else Click.BEAT for n in range(len(times) - count_in)]
    return [HeardClick(time_s=float(t), click=k, likeness=0.9) for t, k in zip(times, kinds, strict=True)]


def test_the_line_is_that_of_least_squares() -> None:
    rng = np.random.default_rng(3)
    numbers = np.arange(40)
    times = 1.0 + 0.6 * (1 + 100e-6) * numbers + rng.normal(0, 0.0004, 40)
    line = click_line(clicks_at(times), count_in_beats=2)
    expected = linregress(numbers, times)
    assert line is not None
    assert line.seconds_per_beat == pytest.approx(expected.slope, abs=1e-7)
    assert line.beat_0_s == pytest.approx(expected.intercept + 2 * expected.slope, abs=1e-6)
    assert line.bpm == pytest.approx(100, abs=0.02)
    assert line.jumps == ()


def test_missing_clicks_and_strokes_taken_for_clicks_do_not_move_it() -> None:
    clicks = clicks_at(1.0 + 0.5 * np.arange(30))
    del clicks[5:7], clicks[17]
    strange = [HeardClick(time_s=1.0 + 0.5 * n + 0.22, click=Click.BEAT, likeness=0.4) for n in (4, 9, 13)]
    line = click_line(sorted([*clicks, *strange], key=lambda each: each.time_s), count_in_beats=2)
    assert line is not None
    assert line.beat_0_s == pytest.approx(2.0, abs=1e-6)
    assert line.bpm == pytest.approx(120, abs=1e-6)


@pytest.mark.parametrize("lost_s", [0.010, 0.030])
def test_lost_sound_is_noticed_within_two_clicks(lost_s: float) -> None:
    times = 1.0 + 0.6 * np.arange(30)
    times[20:] -= lost_s
    line = click_line(clicks_at(times), count_in_beats=2)
    assert line is not None
    (jump,) = line.jumps
    assert (jump.from_s, jump.to_s) == (pytest.approx(times[19]), pytest.approx(times[20]))
    assert jump.size_s == pytest.approx(-lost_s, abs=0.001)


def test_too_few_clicks_are_no_line() -> None:
    assert click_line(clicks_at(1.0 + 0.5 * np.arange(3)), count_in_beats=2) is None
    assert click_line([], count_in_beats=2) is None


def test_clicks_in_no_order_are_no_line() -> None:
    times = np.sort(np.random.default_rng(1).uniform(0, 20, 25))
    line = click_line(clicks_at(times), count_in_beats=2)
    assert line is None or line.clicks < 13


@pytest.mark.parametrize("voice", ClickVoice)
def test_beat_0_is_found_beside_a_banjo_and_a_clock_that_drifts(make: Make, voice: ClickVoice) -> None:
    recording = make(click=voice, drift_ppm=100.0, passes=6)
    clicks = [
        each
        for each in find_clicks(recording.wave, RATE, BEATS, voice=voice, beside=True)
        if each.likeness >= 0.36
    ]
    line = click_line(clicks, count_in_beats=4)
    assert line is not None
    assert line.beat_0_s == pytest.approx(recording.beat_0_s, abs=0.0015)
    assert line.seconds_per_beat == pytest.approx(60 / 90 * (1 + 100e-6), rel=100e-6)


def test_clicks_that_an_echo_has_spoilt_do_not_pull_the_line_along() -> None:
    numbers = np.arange(40)
    times = 1.0 + 0.6 * numbers
    clicks = [
        HeardClick(
            time_s=at_s - (0.0045 if number % 2 and number > 8 else 0.0),
            click=Click.BEAT,
            likeness=0.7 if number % 2 else 0.95,
        )
        for number, at_s in zip(numbers, times, strict=True)
    ]
    line = click_line(clicks, count_in_beats=2)
    assert line is not None
    assert line.at_s == pytest.approx(1.0, abs=1e-4)
    assert line.seconds_per_beat == pytest.approx(0.6, abs=1e-5)
