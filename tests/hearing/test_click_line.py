"""The line through the clicks that were heard: tempo, beat 0 and jumps."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import linregress

from tests.hearing.conftest import Make
from trainer.commands.heard_takes import clicks_in
from trainer.hearing.bands import RATE, Wave
from trainer.hearing.click_line import ClickLine, click_line
from trainer.sound.clicks import Click, ClickVoice, click_samples


def sound_of(
    times: NDArray[np.floating[Any]], *, count_in: int = 2, bar: int = 2, left_out: tuple[int, ...] = ()
) -> Wave:
    """Return tone clicks that begin at these seconds, in a quiet room."""
    kinds = [Click.COUNT_IN_FIRST, *[Click.COUNT_IN] * (count_in - 1)]
    kinds += [Click.FIRST_BEAT if n % bar == 0 else Click.BEAT for n in range(len(times) - count_in)]
    last = float(times[-1]) if len(times) else 0.0
    sound = np.random.default_rng(2).normal(0, 1e-4, round((last + 1.0) * RATE))
    for number, (at_s, kind) in enumerate(zip(times, kinds, strict=False)):
        if number not in left_out:
            samples = click_samples(kind, -6.0, RATE, ClickVoice.TONE) / 32768
            sound[round(at_s * RATE) :][: len(samples)] += samples
    return sound


def line_in(sound: Wave, *, count_in_beats: int = 2, voice: ClickVoice = ClickVoice.TONE) -> ClickLine | None:
    return click_line(clicks_in(sound, voice), sound, voice, count_in_beats=count_in_beats)


def test_the_line_is_that_of_least_squares_where_all_clicks_are_plain() -> None:
    rng = np.random.default_rng(3)
    numbers = np.arange(40)
    times = np.round((1.0 + 0.6 * (1 + 100e-6) * numbers + rng.normal(0, 0.0001, 40)) * RATE) / RATE
    line = line_in(sound_of(times))
    expected = linregress(numbers, times)
    assert line is not None
    assert line.clicks == 40
    assert line.seconds_per_beat == pytest.approx(expected.slope, abs=2e-6)
    assert line.beat_0_s == pytest.approx(expected.intercept + 2 * expected.slope, abs=5e-5)
    assert line.bpm == pytest.approx(100, abs=0.02)
    assert line.jumps == ()


def test_missing_clicks_and_sounds_taken_for_clicks_do_not_move_it() -> None:
    times = 1.0 + 0.5 * np.arange(30)
    sound = sound_of(times, left_out=(5, 6, 19))
    strange = click_samples(Click.BEAT, -6.0, RATE, ClickVoice.TONE) / 32768
    for number in (4, 9, 13):
        sound[round((1.22 + 0.5 * number) * RATE) :][: len(strange)] += 0.7 * strange
    line = line_in(sound)
    assert line is not None
    assert line.jumps == ()
    assert line.beat_0_s == pytest.approx(2.0, abs=1e-4)
    assert line.bpm == pytest.approx(120, abs=1e-3)


@pytest.mark.parametrize("lost_s", [0.010, 0.030])
def test_lost_sound_is_found_between_the_two_clicks_beside_it(lost_s: float) -> None:
    times = 1.0 + 0.6 * np.arange(30)
    times[20:] -= lost_s
    line = line_in(sound_of(times))
    assert line is not None
    (jump,) = line.jumps
    assert jump.from_s == pytest.approx(times[19], abs=0.001)
    assert jump.to_s == pytest.approx(times[20], abs=0.001)
    assert jump.size_s == pytest.approx(-lost_s, abs=0.001)


def test_lost_sound_under_a_banjo_is_found_and_leaves_the_longest_stretch(make: Make) -> None:
    recording = make(click=ClickVoice.TONE, passes=6)
    cut_s = recording.beat_0_s + 18.4 * 60 / 90
    lost = np.delete(recording.wave, np.arange(round(cut_s * RATE), round((cut_s + 0.010) * RATE)))
    line = line_in(lost, count_in_beats=4)
    assert line is not None
    (jump,) = line.jumps
    assert jump.from_s < cut_s < jump.to_s < cut_s + 1.4 * 60 / 90
    assert jump.size_s == pytest.approx(-0.010, abs=0.001)
    assert line.beat_0_s == pytest.approx(recording.beat_0_s, abs=0.0005)


def test_too_few_clicks_are_no_line() -> None:
    assert line_in(sound_of(1.0 + 0.5 * np.arange(3))) is None
    assert line_in(sound_of(np.empty(0))) is None


def test_clicks_in_no_order_are_no_line() -> None:
    times = np.sort(np.random.default_rng(1).uniform(0, 20, 25))
    line = line_in(sound_of(times))
    assert line is None or line.clicks < 13


@pytest.mark.parametrize("voice", ClickVoice)
def test_beat_0_is_found_beside_a_banjo_and_a_clock_that_drifts(make: Make, voice: ClickVoice) -> None:
    recording = make(click=voice, drift_ppm=100.0, passes=6)
    line = line_in(recording.wave, count_in_beats=4, voice=voice)
    assert line is not None
    assert line.beat_0_s == pytest.approx(recording.beat_0_s, abs=0.0005)
    assert line.seconds_per_beat == pytest.approx(60 / 90 * (1 + 100e-6), rel=50e-6)


def test_a_banjo_without_a_click_has_no_line_with_a_count_in(make: Make) -> None:
    for voice in ClickVoice:
        line = line_in(make(passes=6).wave, count_in_beats=4, voice=voice)
        assert line is None or line.beat_0_s is None


def test_clicks_that_other_tones_ring_into_do_not_pull_the_line_along() -> None:
    numbers = np.arange(40)
    times = 1.0 + 0.6 * numbers
    sound = sound_of(times)
    t = np.arange(round(0.03 * RATE)) / RATE
    partial = 0.4 * np.sin(2 * np.pi * 2600 * t) * np.exp(-t / 0.004)
    for at_s in times[9::2]:
        sound[round((at_s - 0.005) * RATE) :][: len(partial)] += partial
    line = line_in(sound)
    assert line is not None
    assert line.at_s == pytest.approx(1.0, abs=2e-4)
    assert line.seconds_per_beat == pytest.approx(0.6, abs=1e-5)
