"""Sixteen bits are never overrun, and how a mix is cut changes nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from tests.sound.loudness import true_peak_db
from trainer.sound.gain import (
    CEILING,
    FILE_CEILING,
    MARGIN,
    PAN_STEPS,
    REACH,
    TAP_CEILING,
    limited,
    panned,
    panned_tap,
    shares,
    to_samples,
)

RATE = 48_000
LOUD = st.integers(-(2**20), 2**20)
PLACES = st.floats(-1, 1, allow_nan=False)


def mix_of(rng: np.random.Generator, frames: int, loudest: int) -> np.ndarray:
    """A mix of two channels that is now soft, now far too loud."""
    envelope = np.repeat(rng.uniform(0, 1, frames // 100 + 1) ** 4, 100)[:frames, np.newaxis]
    return np.rint(rng.uniform(-1, 1, (frames, 2)) * envelope * loudest * PAN_STEPS).astype(np.int64)


@given(hnp.arrays(np.int64, st.tuples(st.integers(2 * MARGIN, 2 * MARGIN + 300), st.just(2)), elements=LOUD))
def test_a_mix_of_any_loudness_stays_at_or_below_the_ceiling(mix: np.ndarray) -> None:
    out = limited(mix * PAN_STEPS).astype(int)
    assert out.shape == (len(mix) - 2 * MARGIN, 2)
    assert (np.abs(out) <= CEILING).all()
    assert (np.sign(out) * np.sign(mix[MARGIN : len(mix) - MARGIN]) >= 0).all()


@given(hnp.arrays(np.int64, (2 * MARGIN + 50, 2), elements=st.integers(-CEILING, CEILING)))
def test_a_mix_that_fits_is_left_alone(mix: np.ndarray) -> None:
    np.testing.assert_array_equal(limited(mix * PAN_STEPS), mix[MARGIN:-MARGIN])


@given(st.integers(0, 2**32 - 1), st.integers(0, 3000), st.integers(1, 1500))
def test_a_piece_of_a_mix_is_limited_as_in_the_whole(seed: int, first: int, frames: int) -> None:
    mix = mix_of(np.random.default_rng(seed), 5000 + 2 * MARGIN, 4 * CEILING)
    piece = limited(mix[first : first + frames + 2 * MARGIN])
    np.testing.assert_array_equal(piece, limited(mix)[first : first + frames])


def test_the_gain_moves_no_faster_than_an_average_over_its_reach_can() -> None:
    """By hand: the mean of 2 R + 1 values changes by at most 1 / (2 R + 1) when one goes from 0 to 1."""
    frames = 8000
    mix = np.full((frames, 1), CEILING, dtype=np.int64)
    mix[4000:4040] = 10 * CEILING
    out = limited(mix * PAN_STEPS).astype(float)[:, 0]
    gain = out / mix[MARGIN:-MARGIN, 0]
    assert gain.min() == pytest.approx(0.1, abs=0.001)
    assert gain[0] == gain[-1] == 1.0
    assert np.abs(np.diff(gain)).max() <= 1 / (2 * REACH + 1) + 1e-3
    assert int((gain < 1).sum()) <= 40 + 2 * MARGIN


def test_between_the_samples_a_limited_mix_stays_below_minus_one_decibel() -> None:
    """Source of the measure: ITU-R BS.1770-4, annex 2. Noise up to 6 kHz, which few of ours reach."""
    rng = np.random.default_rng(1)
    spectrum = np.fft.rfft(rng.normal(0, 1, 2 * RATE))
    spectrum[2 * 6000 :] = 0
    noise = np.fft.irfft(spectrum)
    mix = np.rint(noise / noise.std() * 20_000).astype(np.int64)[:, np.newaxis] * PAN_STEPS
    assert true_peak_db(limited(mix, ceiling=FILE_CEILING)) < -1.0


@given(PLACES)
def test_both_channels_together_are_the_same_wherever_a_sound_is_put(pan: float) -> None:
    left, right = shares(pan)
    assert left + right == 2 * PAN_STEPS
    assert min(left, right) >= 0
    bus = np.arange(-50, 50, dtype=np.int32)
    np.testing.assert_array_equal(panned({pan: bus}).sum(axis=1), 2 * PAN_STEPS * bus.astype(int))


def test_the_ends_are_left_and_right() -> None:
    assert (shares(-1.0), shares(0.0), shares(1.0)) == (
        (2 * PAN_STEPS, 0),
        (PAN_STEPS, PAN_STEPS),
        (0, 2 * PAN_STEPS),
    )


@given(PLACES, st.integers(0, 32_767))
def test_a_tap_is_never_louder_than_its_ceiling_in_either_channel(pan: float, peak: int) -> None:
    tap = np.array([peak, -peak, peak // 3], dtype=np.int16)
    placed = panned_tap(tap, pan)
    assert placed.shape == (3, 2)
    assert int(np.abs(placed.astype(int)).max()) <= TAP_CEILING


def test_a_soft_tap_keeps_its_loudness_and_has_its_place() -> None:
    np.testing.assert_array_equal(panned_tap(np.array([1000], dtype=np.int16), -0.25), [[1250, 750]])
    assert panned_tap(np.zeros(0, dtype=np.int16), 0.3).shape == (0, 2)


def test_a_gain_of_minus_twenty_decibels_is_a_tenth() -> None:
    """Source: the definition of the decibel for amplitudes, 20 log10."""
    assert to_samples(np.array([1.0, -1.0, 0.0]), -20.0).tolist() == [3277, -3277, 0]
