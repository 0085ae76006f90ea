"""Measure loudness and true peak as ITU-R BS.1770-4 does (annexes 1 and 2), for the tests and studies.

The coefficients of the two filters are those of its tables 1 and 2, for 48 kHz, from memory; that they are
right is checked in test_loudness against the value that the standard states for a sine and against
pyloudnorm.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Wave = NDArray[np.float64]

RATE = 48_000
SHELF = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585))
HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
OFFSET_DB = -0.691
BLOCK_S, STEP_S = 0.4, 0.1
ABSOLUTE_GATE, RELATIVE_GATE = -70.0, -10.0
OVERSAMPLING = 4


def loudness(stereo: NDArray[np.generic], rate: int = RATE) -> float:
    """Return the integrated loudness in LUFS of sound of shape (n, 2) or (n,), full scale 1; int16 too.

    Minus infinity where nothing passes the gates.
    """
    if rate != RATE:
        raise ValueError("the standard's coefficients are those of 48 kHz")
    wave = _full_scale_1(stereo)
    weighted = signal.lfilter(*HIGH_PASS, signal.lfilter(*SHELF, wave, axis=0), axis=0)
    block, step = round(BLOCK_S * rate), round(STEP_S * rate)
    starts = range(0, max(len(weighted) - block, 0) + 1, step)
    # Each channel in front has weight 1.
    power = np.array([(weighted[at : at + block] ** 2).mean(axis=0).sum() for at in starts])
    with np.errstate(divide="ignore"):
        levels = OFFSET_DB + 10 * np.log10(power)
        kept = power[levels > ABSOLUTE_GATE]
        if not len(kept):
            return -np.inf
        gate = OFFSET_DB + 10 * np.log10(kept.mean()) + RELATIVE_GATE
        kept = power[(levels > ABSOLUTE_GATE) & (levels > gate)]
        return float(OFFSET_DB + 10 * np.log10(kept.mean()))


def true_peak_db(sound: NDArray[np.generic]) -> float:
    """Return the true peak in dBTP: the highest of four times as many samples (BS.1770-4, annex 2)."""
    wave = _full_scale_1(sound)
    highest = max(np.abs(wave).max(), np.abs(signal.resample_poly(wave, OVERSAMPLING, 1, axis=0)).max())
    return float(20 * np.log10(max(highest, 1e-9)))


def _full_scale_1(sound: NDArray[np.generic]) -> Wave:
    wave = np.asarray(sound, dtype=np.float64)
    if np.issubdtype(sound.dtype, np.integer):
        wave = wave / 32768.0
    return wave if wave.ndim == 2 else wave[:, np.newaxis]
