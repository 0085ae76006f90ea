"""Look at a sound through bands of equal musical width.

A band is a triangle on the axis of frequencies: 1 at its centre, 0 at the centres of its neighbours. Bands
narrower than a line of the spectrum take the nearest line. Magnitudes, not powers, unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Wave = NDArray[np.float64]

RATE = 48_000  # all sound is brought to this rate at the door
# Half the width of what is left out round a frequency: a tone that rises within 3 ms is so wide.
DEAF_HZ = 330.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """Which lines of a spectrum make up each band, and with what share.

    Kept as lists of lines, since a band holds few of them: a product of matrices would cost twenty times as
    much, and a numerical library would spread it over processors that the sound needs.

    Attributes:
        lines: numbers of lines, those of the first band first.
        shares: one for each of ``lines``; they sum to 1 within a band.
        starts: where each band begins in ``lines``.
    """

    lines: NDArray[np.intp]
    shares: Wave
    starts: NDArray[np.intp]

    @classmethod
    def from_rows(cls, rows: Sequence[Wave]) -> Bands:
        """Return bands given as one weight for each line of the spectrum; rows of zeros are left out."""
        held = [np.flatnonzero(row) for row in rows]
        kept = [(row, lines) for row, lines in zip(rows, held, strict=True) if len(lines)]
        lengths = [len(lines) for _row, lines in kept]
        return cls(
            lines=np.concatenate([lines for _row, lines in kept]),
            shares=np.concatenate([row[lines] / row[lines].sum() for row, lines in kept]),
            starts=np.concatenate([[0], np.cumsum(lengths)[:-1]]).astype(np.intp),
        )

    def __len__(self) -> int:
        """The number of bands."""
        return len(self.starts)

    def of(self, spectra: Wave) -> Wave:
        """Return the bands of spectra, shape (n, bands), from shape (n, lines)."""
        return np.asarray(np.add.reduceat(spectra[:, self.lines] * self.shares, self.starts, axis=1))


@lru_cache(maxsize=32)
def octave_bands(
    length: int,
    *,
    bands_per_octave: int,
    lowest_hz: float,
    highest_hz: float,
    deaf_hz: tuple[float, ...] = (),
) -> Bands:
    """Return bands of a spectrum of ``length`` frames.

    Args:
        bands_per_octave: centres lie at ``lowest_hz * 2**(k / bands_per_octave)``, k from 1.
        deaf_hz: frequencies round which nothing is heard (a click's own tone); bands that hold nothing else
            are left out.
    """
    lines = np.fft.rfftfreq(length, 1 / RATE)
    count = int(bands_per_octave * np.log2(highest_hz / lowest_hz))
    edges = lowest_hz * 2 ** (np.arange(count + 2) / bands_per_octave)
    rows = []
    for below, centre, above in zip(edges, edges[1:], edges[2:], strict=False):
        row = np.minimum((lines - below) / (centre - below), (above - lines) / (above - centre))
        row = np.maximum(row, 0.0)
        if row.sum() == 0:
            row[np.argmin(np.abs(lines - centre))] = 1.0
        for deaf in deaf_hz:
            row[np.abs(lines - deaf) < DEAF_HZ] = 0.0
        rows.append(row)
    return Bands.from_rows(rows)


def line_frames(wave: Wave, length: int, hop: int) -> Wave:
    """Return the magnitudes of each whole frame of a wave, shape (frames, lines), seen through a Hann window.

    Frame ``n`` holds ``wave[n * hop : n * hop + length]``. No frames where the wave is shorter than one.
    """
    if len(wave) < length:
        return np.empty((0, length // 2 + 1))
    frames = np.lib.stride_tricks.sliding_window_view(wave, length)[::hop]
    return np.asarray(np.abs(np.fft.rfft(frames * np.hanning(length), axis=1)))


def band_frames(wave: Wave, length: int, hop: int, bands: Bands, *, power: bool = False) -> Wave:
    """Return the bands of each frame of a wave as :func:`line_frames` cuts it, shape (frames, bands).

    Args:
        power: squares of the magnitudes instead of magnitudes.
    """
    lines = line_frames(wave, length, hop)
    return bands.of(lines**2 if power else lines)


def centred_bands(length: int, centres_hz: Wave) -> Bands:
    """Return bands round given centres, each as wide as the step to the next; at least a line wide, so that a
    partial between two lines is not lost.
    """
    lines = np.fft.rfftfreq(length, 1 / RATE)
    widths = np.maximum(np.diff(centres_hz, append=centres_hz[-1] ** 2 / centres_hz[-2]), RATE / length)
    return Bands.from_rows(
        [
            np.maximum(0.0, 1 - np.abs(lines - at) / width)
            for at, width in zip(centres_hz, widths, strict=True)
        ]
    )
