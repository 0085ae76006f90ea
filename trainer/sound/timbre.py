"""Say what colour a string's sound has, and make the burst that gives it that colour.

The body of an instrument shapes what its strings send out. Since loop and body are both linear, the body
may as well shape the burst that is put into the loop (commuted synthesis: Smith 1993, ICMC, and Karjalainen
et al. 1993, ibid.; from memory). So a timbre is a curve of level over frequency, and its burst is one period
whose partials have the levels of that curve.

The banjo's curve has what is published of the instrument: a formant with its peak at 500 to 800 Hz and
another hill above 2 kHz (Woodhouse, Politzer and Mansour 2021, Acta Acustica 5:15), and 99 % of the sound
between 147 and 5200 Hz (Rae and Rossing, "Design aspects of the five string banjo", abstract). Each note
begins with a knock of the body's own modes, which the same paper found that a banjo is known by; the modes
here are round figures inside those formants.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Wave = NDArray[np.float64]

HEAD_S = 0.12
HEAD_RISE_S = 0.0004
_LN_1000 = 6.91  # sixty decibels
# The head's modes: Hz, time to fall by 60 dB in seconds, height.
_HEAD_MODES = (
    (255.0, 0.100, 0.50),
    (390.0, 0.090, 0.60),
    (540.0, 0.080, 1.00),
    (655.0, 0.070, 1.00),
    (790.0, 0.060, 0.80),
    (1060.0, 0.050, 0.50),
    (1480.0, 0.035, 0.35),
    (2300.0, 0.020, 0.35),
    (3000.0, 0.015, 0.35),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timbre:
    """The colour of a plucked string.

    Attributes:
        curve: (Hz, dB) ascending; levels between two points lie on a line over the logarithm of frequency.
        plucked_at: where along the string, as a share of it; a partial that rests there is weakened.
        least: what is left of such a partial, 0 to 1.
        spread_s: how much later low partials begin than high ones, so that a period has no spike.
        lift_s: partials that the loop takes away sooner begin as much stronger as they lose in this time.
    """

    curve: tuple[tuple[float, float], ...]
    plucked_at: float
    least: float = 0.35
    spread_s: float = 0.0015
    lift_s: float = 0.05

    def levels(self, hz: Wave) -> Wave:
        """Return the curve at some frequencies, as factors."""
        corners, levels_db = np.array(self.curve).T
        found = np.interp(np.log(np.maximum(hz, 1.0)), np.log(corners), levels_db)
        return np.asarray(10.0 ** (found / 20.0))


BANJO = Timbre(
    curve=(
        (60, -24), (100, -12), (147, -6), (200, -4), (262, -1.5), (350, 0), (494, 1), (560, 2), (650, 3),
        (750, 2), (900, -1), (1200, -5), (1800, -8), (2300, -7), (2900, -6), (3600, -10), (4500, -18),
        (5200, -26), (7000, -45), (24_000, -90),
    ),
    plucked_at=0.2,
)  # fmt: skip
FINGER = Timbre(  # the soft edge of a finger on the same string
    curve=((60, -20), (147, -4), (300, 0), (650, 0), (900, -6), (1500, -18), (3000, -40), (24_000, -90)),
    plucked_at=0.2,
)
CHOPPED = Timbre(  # a chord on a guitar's middle strings, its strings damped at once
    curve=((80, -20), (160, -3), (220, 0), (750, 0), (1100, -8), (1900, -24), (4000, -48), (24_000, -90)),
    plucked_at=0.24,
    spread_s=0.003,
)
_MOST_LIFT_DB = 14.0
_SPREAD_HZ = 1200.0


def timbre_burst(timbre: Timbre, period: int, rate: int) -> Wave:
    """Return the burst of a pluck, one period of so many frames, shape (period,)."""
    hz: Wave = np.asarray(np.fft.rfftfreq(period, 1.0 / rate), dtype=np.float64)
    partials = np.arange(len(hz))
    plucked = timbre.least + (1.0 - timbre.least) * np.abs(np.sin(np.pi * partials * timbre.plucked_at))
    # The loop's two-point average takes cos(pi f / rate) of a partial away in each period.
    kept = np.maximum(np.cos(np.pi * hz / rate), 1e-3)
    lost_db = -20.0 * np.log10(kept) * timbre.lift_s * rate / period
    levels = timbre.levels(hz) * plucked * 10.0 ** (np.minimum(lost_db, _MOST_LIFT_DB) / 20.0)
    levels[0] = 0.0
    delay_s = timbre.spread_s * np.exp(-hz / _SPREAD_HZ)
    phase = -2.0 * np.pi * np.cumsum(delay_s) * rate / period
    return np.asarray(np.fft.irfft(levels * np.exp(1j * phase), period), dtype=np.float64)


@lru_cache(maxsize=4)
def head_knock(rate: int) -> Wave:
    """Return the knock of a banjo's head when a string is plucked, its peak at 1 or -1, read-only."""
    t = np.arange(round(HEAD_S * rate)) / rate
    wave = np.zeros(len(t))
    for hz, t60_s, height in _HEAD_MODES:
        wave += height * np.exp(-_LN_1000 * t / t60_s) * np.sin(2.0 * np.pi * hz * t)
    wave *= np.minimum(t / HEAD_RISE_S, 1.0)
    wave /= np.abs(wave).max()
    wave.flags.writeable = False
    return wave
