"""A tone that sweeps over what a banjo sounds in, and what a microphone heard of it.

The sweep is exponential (Farina 2000, AES Convention 108, from memory): as long in each octave. How it comes
back tells whether the loudspeaker is heard at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trainer.hearing.bands import RATE, Wave

SWEEP_S = 1.0
LOW_HZ, HIGH_HZ = 200.0, 10_000.0
FADE_S = 0.03
SWEEP_DB = -18.0
LEAST_LIKENESS = 0.15  # of the recording at its best place; noise alone 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepHeard:
    """What was heard of a sweep.

    Attributes:
        likeness: correlation with the sweep at the best place, 0 to 1.
        at_s: that place, in seconds of the recording.
    """

    likeness: float
    at_s: float

    @property
    def is_heard(self) -> bool:
        """Whether the loudspeaker is heard."""
        return self.likeness >= LEAST_LIKENESS


@lru_cache(maxsize=1)
def sweep_wave() -> Wave:
    """Return the sweep, mono at 48 kHz, its peak at ``SWEEP_DB``; read-only."""
    t = np.arange(round(SWEEP_S * RATE)) / RATE
    octaves = np.log(HIGH_HZ / LOW_HZ)
    phase = 2 * np.pi * LOW_HZ * SWEEP_S / octaves * np.expm1(t / SWEEP_S * octaves)
    fade = np.minimum(1.0, np.minimum(t, SWEEP_S - t) / FADE_S)
    wave = 10 ** (SWEEP_DB / 20) * np.sin(phase) * fade
    wave.flags.writeable = False
    return np.asarray(wave)


def sweep_heard(recording: Wave) -> SweepHeard:
    """Return what a recording holds of the sweep.

    Args:
        recording: mono at 48 kHz, with one sweep or none.
    """
    sweep = sweep_wave()
    if len(recording) < len(sweep):
        return SweepHeard(likeness=0.0, at_s=0.0)
    size = 1 << (len(recording) + len(sweep)).bit_length()
    found = np.fft.irfft(np.fft.rfft(recording, size) * np.conj(np.fft.rfft(sweep, size)), size)
    found = np.abs(found[: len(recording) - len(sweep) + 1])
    sums = np.concatenate([[0.0], np.cumsum(recording**2)])
    power = np.maximum(sums[len(sweep) :] - sums[: -len(sweep)], 1e-12)
    alike = found / np.sqrt(power * float((sweep**2).sum()))
    at = int(np.argmax(found))
    return SweepHeard(likeness=float(alike[at]), at_s=at / RATE)
