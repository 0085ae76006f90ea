"""The tone click: one narrow band, a soft edge, and found by a microphone while a banjo plays."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.sound.room import Room
from tests.sound.spectrum import share
from trainer.music.tuning import note_to_hz
from trainer.sound.clicks import TONE_RISE_S, TONE_S, Click, ClickVoice, click_samples
from trainer.sound.string import banjo_wave

RATE = 48_000
CENTRE_HZ, HALF_BAND_HZ = 2600, 230  # what a hearing detector may leave out round a click
FOUND_S = 0.0003
CLICKS = 24


def tone(click: Click) -> NDArray[np.float64]:
    return click_samples(click, -6.0, RATE, ClickVoice.TONE).astype(float)


@pytest.mark.parametrize("click", Click)
def test_a_tone_has_all_of_its_sound_in_one_narrow_band(click: Click) -> None:
    wave = tone(click)
    assert share(wave, CENTRE_HZ - HALF_BAND_HZ, CENTRE_HZ + HALF_BAND_HZ) > 0.98
    assert len(wave) == round(TONE_S * RATE)
    assert wave[0] != 0


@pytest.mark.parametrize("click", Click)
def test_a_tone_rises_within_three_milliseconds_and_ends_without_an_edge(click: Click) -> None:
    wave = np.abs(tone(click))
    rise = round(TONE_RISE_S * RATE)
    assert wave[rise - 20 : rise + 40].max() == pytest.approx(wave.max(), rel=0.1)
    assert wave[: rise // 4].max() < 0.3 * wave.max()
    assert wave[-20:].max() < 0.01 * wave.max()


def test_a_tone_stands_out_of_a_banjo_of_the_same_height_in_its_own_band() -> None:
    """In the 25 ms of a click, where it lies over a stroke: more energy than the stroke, for every string."""
    click = tone(Click.BEAT)
    for note in (50, 55, 59, 62, 67):
        stroke = banjo_wave(note_to_hz(note), RATE)[: len(click)] * np.abs(click).max()
        low, high = CENTRE_HZ - HALF_BAND_HZ, CENTRE_HZ + HALF_BAND_HZ
        assert (click**2).sum() * share(click, low, high) > 2 * (stroke**2).sum() * share(stroke, low, high)


@pytest.mark.parametrize(
    ("noise", "direct_db", "banjo", "spread_s"),
    [
        (0.002, 30.0, 0.0, 0.00005),
        (0.002, 3.0, 0.0, 0.00005),
        (0.02, 3.0, 0.0, 0.00015),
        (0.002, 3.0, 1.0, FOUND_S),
    ],
)
def test_a_microphone_finds_each_tone_to_three_tenths_of_a_millisecond(
    noise: float, direct_db: float, banjo: float, spread_s: float
) -> None:
    """By the envelope of a matched filter, up to a constant of the room, which calibration takes off.

    The room is that of tests/sound/room.py; a banjo as high as the clicks plays four strokes a second. Source
    of the method: Turin 1960, "An introduction to matched filters", IRE Trans. Inf. Theory 6:311-329; from
    memory.
    """
    rng = np.random.default_rng(7)
    room = Room(noise=noise, direct_db=direct_db, voice=ClickVoice.TONE)
    times = [0.3 + 0.6 * n + float(rng.uniform(0, 1 / RATE)) for n in range(CLICKS)]
    heard = room.record(rng, [(second, Click.BEAT) for second in times], [], length_s=16.0)
    for n in range(60):
        stroke = 0.25 * banjo * banjo_wave(note_to_hz(int(rng.choice([50, 55, 59, 62, 67]))), RATE)
        at = round((0.2 + 0.25 * n + float(rng.normal(0, 0.02))) * RATE)
        heard[at : at + len(stroke)] += stroke[: max(0, len(heard) - at)]
    errors = np.array([_found(heard, tone(Click.BEAT), second) - second for second in times])
    assert errors.std() < spread_s
    assert errors.std() / np.sqrt(CLICKS) < FOUND_S / 3, "the mean of all of them"


def _found(heard: NDArray[np.float64], sound: NDArray[np.float64], near_s: float) -> float:
    """Return the second at which a sound began, within 20 ms of one that is known."""
    first = round((near_s - 0.02) * RATE)
    piece = heard[first : first + round(0.04 * RATE) + len(sound)]
    size = 1 << (len(piece) + len(sound)).bit_length()
    product = np.fft.fft(piece, size) * np.conj(np.fft.fft(sound, size))
    product[size // 2 :] = 0  # without its negative frequencies a wave's magnitude is its envelope
    envelope = np.abs(np.fft.ifft(product))[: round(0.04 * RATE)]
    at = int(envelope[1:-1].argmax()) + 1
    left, middle, right = envelope[at - 1 : at + 2]
    return (first + at + float(0.5 * (left - right) / (left - 2 * middle + right))) / RATE
