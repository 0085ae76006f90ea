"""A touch is heard beside strings that ring, what rings on is not, and the sound's pieces change nothing."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.banjo_material import in_room
from tests.hearing.conftest import Make
from trainer.hearing.bands import RATE
from trainer.hearing.listening import Listener, listen
from trainer.hearing.taps import TOUCH_THRESHOLD


def newest(sound: np.ndarray, at_s: float) -> float:
    heard = listen(sound, touch_threshold=0.002)
    return max((each.newness for each in heard if abs(each.time_s - at_s) < 0.05), default=0.0)


def ringing(*, beats: bool = False) -> np.ndarray:
    """Four partials that die away, some beating 4 times a second: sums of sines, so their truth is known."""
    t = np.arange(4 * RATE) / RATE
    partials = [(196, 1.0), (294, 0.8), (392, 0.7), (587, 0.4)] + ([(298, 0.7), (396, 0.6)] if beats else [])
    wave = np.asarray(sum(gain * np.sin(2 * np.pi * hz * t) * np.exp(-t / 0.8) for hz, gain in partials))
    wave[: RATE // 2] = 0
    return np.asarray(0.2 * wave)


def touched_at(sound: np.ndarray, at_s: float, under_db: float) -> np.ndarray:
    """The same with a burst of noise that dies away within 10 ms, its peak so far under that of the sound."""
    length = RATE // 20
    burst = np.random.default_rng(7).standard_normal(length) * np.exp(-np.arange(length) / (0.010 * RATE))
    out = sound.copy()
    start = round(at_s * RATE)
    out[start : start + length] += burst / np.abs(burst).max() * np.abs(sound).max() * 10 ** (-under_db / 20)
    return out


@pytest.mark.parametrize("beats", [False, True])
def test_a_touch_18_db_under_what_rings_is_new_and_what_rings_on_is_not(beats: bool) -> None:
    sound = ringing(beats=beats)
    # A second after the strings began: they ring 10 dB over the touch still.
    assert newest(in_room(touched_at(sound, 1.6, 18), snr_db=30, seed=1), 1.6) > TOUCH_THRESHOLD
    assert newest(in_room(sound, snr_db=30, seed=1), 1.6) < TOUCH_THRESHOLD


@pytest.mark.parametrize("piece", [441, 512, 30_000])
def test_how_the_sound_is_cut_changes_nothing_about_touches(make: Make, piece: int) -> None:
    sound = make(touch_share=0.5, touch_db=-18.0).wave
    listener = Listener(touch_threshold=0.005)
    heard = [
        stroke
        for start in range(0, len(sound), piece)
        for stroke in listener.push(sound[start : start + piece])
    ]
    heard += listener.finish()
    whole = listen(sound, touch_threshold=0.005)
    assert [each.time_s for each in heard] == pytest.approx([each.time_s for each in whole], abs=1e-9)
    assert [each.newness for each in heard] == pytest.approx([each.newness for each in whole], rel=1e-9)


def test_a_touch_is_known_within_120_ms_of_sound(make: Make) -> None:
    sound = make(touch_share=0.5, touch_db=-18.0).wave
    # Nothing rises so much: all that is told is told by its newness.
    listener, piece = Listener(threshold=99.0, touch_threshold=TOUCH_THRESHOLD), 256
    told = 0
    for start in range(0, len(sound), piece):
        for stroke in listener.push(sound[start : start + piece]):
            assert listener.heard_s - stroke.time_s <= 0.120
            told += 1
    assert told > 20


def test_touches_are_found_and_silent_skips_are_none(make: Make) -> None:
    recording = make(touch_share=0.5, touch_db=-18.0, snr_db=30.0)
    told = [newest(recording.wave, at_s) >= TOUCH_THRESHOLD for at_s, _touched in recording.skips]
    assert told == [touched for _at_s, touched in recording.skips]
    assert any(told)
    assert not all(told)
