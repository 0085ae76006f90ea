"""Keep sound inside sixteen bits: from waves to samples, and from a sum of samples to one that fits.

Samples are mono int16 arrays, to be added as whole numbers, so a mix is the same however it is cut.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.int16]
Sums = NDArray[np.int32]

FULL_SCALE = 32767
LEAST_DB = -60.0  # softer than this, a sixteen-bit onset has no first frame left
KNEE = 18_000  # about -5 dB; up to here a mix is left alone
CEILING = 26_000  # about -2 dB; never reached, so that a tap's own sound fits on top


def to_samples(wave: NDArray[np.float64], gain_db: float) -> Samples:
    """Return a wave between -1 and 1 as read-only samples at a gain in dB."""
    samples: Samples = np.rint(wave * (FULL_SCALE * 10.0 ** (gain_db / 20.0))).astype(np.int16)
    samples.flags.writeable = False
    return samples


def limited(sums: Sums) -> Samples:
    """Return a mix that fits, shape as given: y = K + (C - K) * z / (1 + z), z = (|x| - K) / (C - K).

    K is the knee and C the ceiling; below the knee nothing is changed, and the curve has slope 1 there.
    Only the four basic operations are used: they give the same bits at every place of an array, which
    the functions that processors work in lanes do not.
    """
    loud = np.abs(sums)
    if not len(sums) or int(loud.max()) <= KNEE:
        return sums.astype(np.int16)
    room = float(CEILING - KNEE)
    over = np.maximum(loud - KNEE, 0) / room
    bent = np.minimum(loud, KNEE) + room * over / (1.0 + over)
    # Rounding down keeps the ceiling out of reach.
    samples: Samples = (np.sign(sums) * np.floor(bent)).astype(np.int16)
    return samples
