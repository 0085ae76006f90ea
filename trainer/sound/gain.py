"""Keep sound inside sixteen bits: from waves to samples, and from a sum of samples to one that fits.

Samples are mono int16 arrays, to be added as whole numbers, so a mix is the same however it is cut. A sum
that is too loud is turned down for some milliseconds round it, by a gain that moves smoothly; that is
worked in whole numbers too, and from nothing but the frames ``MARGIN`` to either side.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.int16]
Sums = NDArray[np.int32]
Whole = NDArray[np.int64]

FULL_SCALE = 32767
LEAST_DB = -60.0  # softer than this, a sixteen-bit onset has no first frame left
CEILING = 15_400  # -6.6 dB; the stream never goes over it, so that what is tapped fits on top
TAP_CEILING = 10_300  # -10 dB; nor does the sound of one tap, which the device's mixer adds
FILE_CEILING = 26_900  # -1.7 dB; a file has nothing on top
PAN_STEPS = 64  # a channel's share of a sound, in these parts
REACH = 96  # frames over which the gain of a limited mix moves, 2 ms at 48 kHz
MARGIN = 4 * REACH
_GAIN_BITS = 16
_UNITY = 1 << _GAIN_BITS


def to_samples(wave: NDArray[np.float64], gain_db: float) -> Samples:
    """Return a wave between -1 and 1 as read-only samples at a gain in dB."""
    samples: Samples = np.rint(wave * (FULL_SCALE * 10.0 ** (gain_db / 20.0))).astype(np.int16)
    samples.flags.writeable = False
    return samples


def shares(pan: float) -> tuple[int, int]:
    """Return the left and the right share of a sound at a pan from -1, left, to 1, right.

    They are parts of ``PAN_STEPS`` and add up to twice that, so the mean of both channels, which one
    loudspeaker plays, is the same wherever a sound is put.
    """
    right = round((1.0 + pan) * PAN_STEPS)
    return 2 * PAN_STEPS - right, right


def panned(buses: dict[float, Sums]) -> Whole:
    """Return mono sums, each at its pan, as one mix of shape (frames, 2), ``PAN_STEPS`` times as loud."""
    frames = len(next(iter(buses.values())))
    mix = np.zeros((frames, 2), dtype=np.int64)
    for pan, bus in buses.items():
        left, right = shares(pan)
        mix[:, 0] += bus * np.int64(left)
        mix[:, 1] += bus * np.int64(right)
    return mix


def panned_tap(samples: Samples, pan: float) -> Samples:
    """Return the sound of a tap at its pan, shape (frames, 2), softer where a channel would be too loud."""
    stereo = samples[:, np.newaxis] * (np.array(shares(pan)) / PAN_STEPS)
    loudest = float(np.abs(stereo).max(initial=0.0))
    placed: Samples = np.rint(stereo * min(1.0, TAP_CEILING / max(loudest, 1.0))).astype(np.int16)
    return placed


def limited(mix: Whole, *, ceiling: int = CEILING) -> Samples:
    """Return the inner frames of a mix, ``MARGIN`` fewer at either end, none of them over the ceiling.

    A mix that does not go over it is only rounded. The gain is the least that any frame within 2 ``REACH``
    needs, averaged twice over ``REACH`` to either side, so it never lets a frame through that is too loud;
    both channels have the same.

    Args:
        mix: shape (frames, channels), ``PAN_STEPS`` times as loud as what comes out.
    """
    top = ceiling * PAN_STEPS
    inner = mix[MARGIN : len(mix) - MARGIN]
    loud = np.abs(mix).max(axis=1, initial=0)
    if not len(inner) or int(loud.max()) <= top:
        return _rounded(inner, _UNITY)
    needed = (top << _GAIN_BITS) // np.maximum(loud, top)
    gain = _mean(_mean(_least(needed, 2 * REACH), REACH), REACH)
    return _rounded(inner, gain[:, np.newaxis])


def _rounded(mix: Whole, gain: Whole | int) -> Samples:
    shift = _GAIN_BITS + PAN_STEPS.bit_length() - 1
    samples: Samples = ((mix * gain + (1 << (shift - 1))) >> shift).astype(np.int16)
    return samples


def _least(values: Whole, reach: int) -> Whole:
    """Return the least of each value and those ``reach`` to either side, without the ends."""
    wide, least = 1, values
    while 2 * wide <= 2 * reach + 1:
        least = np.minimum(least[:-wide], least[wide:])
        wide *= 2
    more = 2 * reach + 1 - wide
    return np.minimum(least[: len(least) - more], least[more:])


def _mean(values: Whole, reach: int) -> Whole:
    """Return the mean of each value and those ``reach`` to either side, rounded down, without the ends."""
    sums = np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(values)])
    wide = 2 * reach + 1
    means: Whole = (sums[wide:] - sums[:-wide]) // wide
    return means
