"""Find when a stroke's main attack was, to about a millisecond.

The first sound of a stroke is often contact noise, up to 12 ms before the string leaves the nail; what a
listener takes for the moment of the stroke is the attack itself. So: the power of bands of a sixth of an
octave in frames of 11 ms is compared with what the band had just before; each band's gain counts by how far
it stands out. From where their sum first comes near its height one goes back to where it last lay under a
small share of it; the moment is a little after that. A small share finds the first string of a brush too
where its others are louder; it is gone back to, not waited for, since beside a soft stroke what is left of
the room, and of the string that was stopped for it, reaches that share earlier.
"""

from __future__ import annotations

import numpy as np

from trainer.hearing.bands import RATE, Wave, band_frames, octave_bands

FRAME = 512
HOP = 32
BANDS_PER_OCTAVE = 6
LOWEST_HZ, HIGHEST_HZ = 300.0, 14_000.0
BEFORE_S, AFTER_S = 0.045, 0.040  # of sound needed round the coarse time
QUIET_FROM_S, QUIET_TO_S = 0.040, 0.014  # before the coarse time: what sounded already
EARLY_S, LATE_S = 0.014, 0.020  # round the coarse time: where the attack may be
COMPRESSED = 0.75
NEAR, SHARE = 0.7, 0.115  # of the height
# From there to the first frame within 12 dB of the peak: 0.7 to 1.3 and 1.9 to 2.3 ms on "sampled A" and "own
# string" of tests/benchmarks/hearing_study.
LEAD_S = 0.0016
_TINY = 1e-14


def attack_s(wave: Wave, from_s: float, coarse_s: float, deaf_hz: tuple[float, ...] = ()) -> float:
    """Return when the attack was that an onset stands for, in seconds of the recording.

    Args:
        wave: mono, at 48 kHz; holds at least BEFORE_S before and AFTER_S after the coarse time, or what is
            missing is taken for silence.
        from_s: second of the recording at which ``wave`` begins.
        coarse_s: where to look.
    """
    bands = octave_bands(
        FRAME,
        bands_per_octave=BANDS_PER_OCTAVE,
        lowest_hz=LOWEST_HZ,
        highest_hz=HIGHEST_HZ,
        deaf_hz=deaf_hz,
    )
    start = round((coarse_s - BEFORE_S - from_s) * RATE) - FRAME // 2
    stop = round((coarse_s + AFTER_S - from_s) * RATE) + FRAME // 2
    piece = wave[max(0, start) : max(0, stop)]
    piece = np.pad(piece, (max(0, -start), max(0, stop - start - max(0, -start) - len(piece))))
    powers = band_frames(piece, FRAME, HOP, bands, power=True)
    times = (np.arange(len(powers)) * HOP + FRAME / 2 + start) / RATE + from_s - coarse_s
    quiet = powers[(times > -QUIET_FROM_S) & (times < -QUIET_TO_S)]
    usual, spread = quiet.mean(axis=0), quiet.std(axis=0)
    gains = np.maximum(0.0, powers - usual - 2 * spread)
    inside = (times > -EARLY_S) & (times < LATE_S)
    heights = gains[inside].max(axis=0)
    standing_out = heights / (usual + spread + heights + _TINY)
    summed = (np.power(gains / (heights + _TINY), COMPRESSED) * standing_out).sum(axis=1)
    summed = np.where(inside, summed, 0.0)
    height = float(summed.max())
    if height <= 0:
        return coarse_s
    level = SHARE * height
    under = np.flatnonzero(summed[: int(np.argmax(summed >= NEAR * height))] < level)
    at = int(under[-1]) + 1 if len(under) else 0
    part = (level - summed[at - 1]) / (summed[at] - summed[at - 1]) if at else 1.0
    return float(coarse_s + times[at] - (1 - part) * HOP / RATE + LEAD_S)
