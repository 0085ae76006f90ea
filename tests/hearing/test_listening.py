"""What is heard is what was played: onsets, moments and strings, however the sound comes in."""

from __future__ import annotations

import numpy as np
import pytest
from mir_eval.onset import f_measure

from tests.hearing.conftest import Make
from trainer.hearing.bands import RATE
from trainer.hearing.listening import Listener, listen
from trainer.music.strokes import Kind


@pytest.mark.parametrize("instrument", ["own string", "string and head"])
@pytest.mark.parametrize("snr_db", [40.0, 20.0])
def test_strokes_are_found_as_mir_eval_counts_them(make: Make, instrument: str, snr_db: float) -> None:
    recording = make(instrument=instrument, snr_db=snr_db)
    truth = np.array([each.time_s for each in recording.played])
    heard = np.array([each.time_s for each in listen(recording.wave)])
    f, _precision, _recall = f_measure(truth, heard, window=0.05)
    assert f >= 0.95


def test_single_strokes_are_placed_within_their_stated_uncertainty(make: Make) -> None:
    recording = make()
    heard = listen(recording.wave)
    for played in recording.played:
        if played.kind in (Kind.THUMB, Kind.DROP_THUMB):
            stroke = min(heard, key=lambda each: abs(each.time_s - played.time_s))
            assert abs(stroke.time_s - played.time_s) <= stroke.uncertainty_s


@pytest.mark.parametrize("piece", [441, 30_000])
def test_how_the_sound_is_cut_changes_nothing(make: Make, piece: int) -> None:
    sound = make().wave
    listener = Listener()
    heard = [
        stroke
        for start in range(0, len(sound), piece)
        for stroke in listener.push(sound[start : start + piece])
    ]
    heard += listener.finish()
    whole = listen(sound)
    # To rounding: seconds are counted from where the piece at hand begins.
    assert [each.time_s for each in heard] == pytest.approx([each.time_s for each in whole], abs=1e-9)
    assert [each.rise for each in heard] == [each.rise for each in whole]
    for one, other in zip(heard, whole, strict=True):
        assert one.colour == pytest.approx(other.colour, abs=1e-3)  # a frame more or less


def test_a_stroke_is_known_within_120_ms_of_sound(make: Make) -> None:
    sound = make().wave
    listener, piece = Listener(), 256
    for start in range(0, len(sound), piece):
        for stroke in listener.push(sound[start : start + piece]):
            assert listener.heard_s - stroke.time_s <= 0.120


@pytest.mark.parametrize("level", [0.0, 1e-4, 0.1])
def test_silence_and_noise_hold_no_stroke(level: float) -> None:
    noise = np.random.default_rng(5).normal(0, 1, 4 * RATE) * level
    assert listen(noise) == ()


@pytest.mark.parametrize("seed", [108, 152, 173, 185, 236, 239, 259, 281, 287])
def test_noise_that_a_recording_begins_with_is_no_stroke(seed: int) -> None:
    """Pink noise, in which one second of thirty had a stroke where listening begins."""
    lines = np.fft.rfft(np.random.default_rng(seed).standard_normal(RATE))
    hz = np.fft.rfftfreq(RATE, 1 / RATE)
    noise = np.fft.irfft(np.where(hz < 40, 0, lines / np.sqrt(np.maximum(hz, 40))), RATE)
    assert listen(0.003 * noise / noise.std()) == ()


def test_no_sound_at_all_holds_no_stroke() -> None:
    assert listen(np.zeros(0)) == ()


def test_an_hour_needs_no_more_memory_than_a_second() -> None:
    listener = Listener()
    for _minute in range(3):
        listener.push(np.zeros(10 * RATE))
    assert len(listener._kept) <= 2 * RATE
