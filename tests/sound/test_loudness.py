"""The meter itself, against the standard's own statement and another implementation."""

import numpy as np
import pytest

from tests.sound.loudness import RATE, loudness, true_peak_db


def sine(hz: float, seconds: float, phase: float = 0.0) -> np.ndarray:
    return np.sin(2 * np.pi * hz * np.arange(round(seconds * RATE)) / RATE + phase)


def test_a_sine_of_997_hz_at_full_scale_in_one_channel_reads_minus_3_01() -> None:
    """Source: ITU-R BS.1770-4, annex 1: a 0 dBFS 997 Hz sine in the left channel gives -3.01 LKFS."""
    left = np.stack([sine(997, 5), np.zeros(5 * RATE)], axis=1)
    assert loudness(left) == pytest.approx(-3.01, abs=0.01)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_noise_with_pauses_reads_as_another_meter_reads_it(seed: int) -> None:
    """Outside check: pyloudnorm, whose filters are designed for any rate and are not those of the table."""
    pyloudnorm = pytest.importorskip("pyloudnorm")
    rng = np.random.default_rng(seed)
    noise = rng.normal(0, 0.05, (6 * RATE, 2))
    noise[2 * RATE : 4 * RATE] *= 0.001
    assert loudness(noise) == pytest.approx(pyloudnorm.Meter(RATE).integrated_loudness(noise), abs=0.1)


def test_a_true_peak_between_the_samples_is_found() -> None:
    """A quarter of the rate at 45 degrees: each sample is at 0.707, the sine itself reaches 1 (by hand)."""
    wave = sine(RATE / 4, 0.2, np.pi / 4)
    assert np.abs(wave).max() == pytest.approx(np.sqrt(0.5), abs=1e-9)
    assert true_peak_db(wave * np.hanning(len(wave))) == pytest.approx(0.0, abs=0.1)


def test_silence_has_no_loudness() -> None:
    assert loudness(np.zeros((RATE, 2))) == -np.inf
