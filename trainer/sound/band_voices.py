"""Make what the players of the small band sound like: bass, chopped chord, light drum, brush.

Where each has its energy was measured on sampled instruments (tests/benchmarks/voice_study.py): a bass below
100 Hz, with overtones enough for a small loudspeaker that gives back none of that; a chopped chord between
200 and 1000 Hz; a brush round 5 kHz, well above the clicks, and a drum well below them.
"""

from __future__ import annotations

import numpy as np

from trainer.music.tuning import note_to_hz
from trainer.sound.string import faded, string_wave
from trainer.sound.timbre import CHOPPED, Wave

BASS_S = 1.0
CHOP_S, CHOP_T60_S = 0.24, 0.34
CHOP_STRUM_S = 0.007
DRUM_S = 0.12
DRUM_HZ, DRUM_DECAY_S = (60.0, 420.0), 0.030
BRUSH_HZ, BRUSH_DECAY_S = (4200.0, 5800.0), 0.018
_SEED = 1961
_LN_1000 = 6.91  # sixty decibels
# Of a plucked bass: height of each partial, and the seconds in which it falls by 60 dB.
_BASS_PARTIALS = ((1.0, 1.6), (0.72, 1.1), (0.48, 0.8), (0.30, 0.5), (0.18, 0.35), (0.10, 0.25), (0.06, 0.2))
_BASS_RISE_S = 0.006
_EDGE_HZ = 0.25  # of a band of noise: how far its edges reach beyond it, as a share


def bass_wave(note: int, rate: int) -> Wave:
    """Return a plucked bass with its peak at 1 or -1, shape (1 s * rate,)."""
    t = np.arange(round(BASS_S * rate)) / rate
    wave = np.zeros(len(t))
    for number, (height, t60_s) in enumerate(_BASS_PARTIALS, 1):
        wave += height * np.exp(-_LN_1000 * t / t60_s) * np.sin(2 * np.pi * number * note_to_hz(note) * t)
    return faded(wave * np.minimum((t + 1 / rate) / _BASS_RISE_S, 1.0), rate)


def chop_wave(notes: tuple[int, ...], rate: int) -> Wave:
    """Return a chord that is struck and damped at once, with its peak at 1 or -1, shape (0.24 s * rate,)."""
    mix = np.zeros(round(CHOP_S * rate))
    for n, note in enumerate(notes):
        start = round(n * CHOP_STRUM_S * rate)
        wave = string_wave(note_to_hz(note), rate, seconds=CHOP_S, t60_s=CHOP_T60_S, timbre=CHOPPED)
        mix[start:] += wave[: len(mix) - start]
    return faded(mix, rate)


def drum_wave(rate: int) -> Wave:
    """Return a light drum, struck low, with its peak at 1 or -1, shape (0.12 s * rate,)."""
    return _noise(rate, DRUM_HZ, DRUM_DECAY_S)


def brush_wave(rate: int) -> Wave:
    """Return a brush on a drum, with its peak at 1 or -1, shape (0.12 s * rate,)."""
    return _noise(rate, BRUSH_HZ, BRUSH_DECAY_S)


def _noise(rate: int, band_hz: tuple[float, float], decay_s: float) -> Wave:
    """Return noise of one band that dies away; outside the band it falls like a bell over frequency."""
    t = np.arange(round(DRUM_S * rate)) / rate
    spectrum = np.fft.rfft(np.random.default_rng(_SEED).uniform(-1, 1, len(t)))
    hz = np.fft.rfftfreq(len(t), 1 / rate)
    low, high = band_hz
    away = np.maximum(low - hz, 0) / (_EDGE_HZ * low) + np.maximum(hz - high, 0) / (_EDGE_HZ * high)
    shaped = np.fft.irfft(spectrum * np.exp(-(away**2)), len(t))
    return faded(shaped * np.exp(-t / decay_s), rate)
