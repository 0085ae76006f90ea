"""Make the clicks of the metronome: short knocks whose loudest edge is their very first frame.

Samples are mono int16 arrays, to be added in whole numbers, so a mix is the same however it is cut.
"""

from __future__ import annotations

import enum
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trainer.music.timeline import as_tempo

Samples = NDArray[np.int16]

FULL_SCALE = 32767
CLICK_S = 0.045
LOUDEST_DB = -3.0  # headroom: a click and five ringing strings stay below full scale
LEAST_SUBDIVISION_S = 0.250  # below 200 to 250 ms between clicks, subdividing hurts: Repp 2003


class Click(enum.Enum):
    """The kinds of click, told apart by pitch and by loudness."""

    FIRST_BEAT = "first beat"
    BEAT = "beat"
    SUBDIVISION = "subdivision"
    COUNT_IN = "count-in"
    COUNT_IN_FIRST = "count-in, first beat"


# Two partials in Hz, decay time in seconds, level in dB below the chosen volume.
_VOICES: dict[Click, tuple[float, float, float, float]] = {
    Click.FIRST_BEAT: (1480.0, 2960.0, 0.009, 0.0),
    Click.BEAT: (990.0, 1980.0, 0.009, -3.0),
    Click.SUBDIVISION: (740.0, 1110.0, 0.006, -12.0),
    Click.COUNT_IN: (620.0, 930.0, 0.014, -3.0),
    Click.COUNT_IN_FIRST: (830.0, 1245.0, 0.014, 0.0),
}


def subdivision_helps(bpm: float, slots_per_beat: int) -> bool:
    """Return whether clicks between the beats help at this tempo.

    They do while their interval is at least 250 ms (Repp 2003, J. Motor Behav. 35:355-370): eighths up
    to 120 bpm, sixteenths up to 60.
    """
    return 60.0 / (float(as_tempo(bpm)) * slots_per_beat) >= LEAST_SUBDIVISION_S


@lru_cache(maxsize=64)
def click_samples(click: Click, gain_db: float, rate: int) -> Samples:
    """Return the samples of a click, read-only.

    Args:
        gain_db: volume; values above -3 dB are taken as -3.
        rate: frames a second.
    """
    low_hz, high_hz, decay_s, level_db = _VOICES[click]
    t = np.arange(round(CLICK_S * rate)) / rate
    # Cosines start at their peak: the onset is the first frame, not a few frames later.
    tone = 0.7 * np.cos(2 * np.pi * low_hz * t) + 0.3 * np.cos(2 * np.pi * high_hz * t)
    fade = np.minimum(1.0, (CLICK_S - t) / 0.005)
    return to_samples(tone * np.exp(-t / decay_s) * fade, min(gain_db, LOUDEST_DB) + level_db)


def to_samples(wave: NDArray[np.float64], gain_db: float) -> Samples:
    """Return a wave between -1 and 1 as read-only int16 samples at a gain in dB."""
    samples: Samples = np.rint(wave * (FULL_SCALE * 10.0 ** (gain_db / 20.0))).astype(np.int16)
    samples.flags.writeable = False
    return samples
