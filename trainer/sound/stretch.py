"""Slow a recording down without changing its pitch: a phase vocoder with locked phases and whole attacks.

The recording is cut into windows that overlap; heard, they lie further apart than in the recording. Each
window's spectrum is turned so that every partial goes on where it left off. Only peaks are followed; what
lies around a peak is turned as the peak is, which keeps its sound together (identity phase locking: J.
Laroche and M. Dolson, "Improved phase vocoder time-scale modification of audio", IEEE Trans. Speech Audio
Process. 7(3), 1999, from memory). Round an attack time goes on at its own speed and the phases start from the
recording's own, so that the attack is heard as it was, at its place, and only what rings between attacks is
drawn out (after A. Roebel, "A new approach to transient processing in the phase vocoder", DAFx 2003, the idea
alone, from memory). The turns are found from both channels together, so that left stays left.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

WINDOW_S = 0.0427  # 2048 frames at 48 kHz: partials 47 Hz apart are told apart, and little is smeared
OVERLAP = 4  # windows over each frame that is heard
SLOWEST_SHARE = 0.25
ANEW = 3 / 8  # of a window before an attack: windows before that have 2 % of their weight on it
ATTACK_STEP_S = 0.0025
ATTACK_PAST = 12  # steps of what went before
ATTACK_RISE = 6.0  # energy of the changes from frame to frame, against what went before
ATTACK_BEGUN, ATTACK_BEGINS = 4, 1.8  # it began at most so many steps before, where it was so much louder
ATTACK_LEAST = 1e-8  # of full scale squared, a frame: what is fainter is no attack
FULL = 32768.0

Stereo = NDArray[np.int16]
Frames = NDArray[np.float64]


def stretched_length(frames: int, share: float) -> int:
    """Return how many frames a recording has that is played at a share of its speed."""
    return round(frames / share)


def stretched(samples: Stereo, share: float, rate: int, *, block: int = 1 << 16) -> Iterator[Stereo]:
    """Give a recording as it is heard at a share of its speed, its pitch as it was, piece by piece.

    Args:
        samples: shape (n, 2).
        share: of the speed, from ``SLOWEST_SHARE`` to 1; a beat at second s is heard at s / share.
        rate: frames a second.
        block: frames of a piece; the last one may be shorter.

    Yields:
        Arrays of shape (m, 2), together ``stretched_length`` frames.

    Raises:
        ValueError: a share outside its limits.
    """
    if not SLOWEST_SHARE <= share <= 1.0:
        raise ValueError(f"a share of {share} of the speed is outside {SLOWEST_SHARE} to 1")
    if share == 1.0:
        for first in range(0, len(samples), block):
            yield samples[first : first + block]
        return
    vocoder = _Vocoder(samples, share, 1 << round(np.log2(WINDOW_S * rate)), attacks(samples, rate))
    window, hop = vocoder.size, vocoder.hop
    left = stretched_length(len(samples), share)
    early = window // 2  # half of the first window lies before the first frame
    ready = np.zeros((block + window, 2))
    at = number = 0
    while left > 0:
        ready[at : at + window] += vocoder.window(number)
        number += 1
        at += hop
        if at < block:
            continue
        piece = ready[early:at][:left]
        left -= len(piece)
        yield np.asarray(np.clip(np.round(piece * FULL), -FULL, FULL - 1), dtype=np.int16)
        rest = ready[at:].copy()
        ready[:] = 0.0
        ready[: len(rest)] = rest
        at = early = 0


def attacks(samples: Stereo, rate: int) -> Frames:
    """Return the frames at which something is struck, ascending and more than a window apart.

    An attack is where the changes from frame to frame, which are those of the high partials, have several
    times the energy that they had before.
    """
    step = max(1, round(ATTACK_STEP_S * rate))
    count = len(samples) // step
    if count <= ATTACK_PAST:
        return np.zeros(0)
    energy = np.empty(count)
    for first in range(0, count, 4096):  # whole recordings take a piece at a time
        last = min(first + 4096, count)
        mid = samples[first * step : last * step].astype(np.float64).sum(axis=1) / (2 * FULL)
        change = np.diff(mid, prepend=mid[:1])
        energy[first:last] = (change**2).reshape(-1, step).sum(axis=1)
    sums = np.concatenate(([0.0], np.cumsum(energy)))
    before = (sums[ATTACK_PAST:-1] - sums[: -ATTACK_PAST - 1]) / ATTACK_PAST
    rise = energy[ATTACK_PAST:] / (before + ATTACK_LEAST * step)
    found: list[float] = []
    apart = WINDOW_S * rate * 1.1
    for at in np.flatnonzero(rise > ATTACK_RISE) + ATTACK_PAST:
        if found and at * step - found[-1] <= apart:
            continue
        # An attack among what rings is loud enough only some steps after it began.
        base = energy[at - ATTACK_PAST : at - ATTACK_BEGUN].mean() + ATTACK_LEAST * step
        louder = energy[at - ATTACK_BEGUN : at] > ATTACK_BEGINS * base
        begun = int(np.argmin(louder[::-1])) if not louder.all() else ATTACK_BEGUN
        found.append(float((at - begun) * step))
    return np.array(found)


class _Vocoder:
    """Makes one window after another; the middle of window k is heard at frame k * hop."""

    def __init__(self, samples: Stereo, share: float, size: int, struck: Frames) -> None:
        self.size = size
        self.hop = size // OVERLAP
        self._samples = samples
        self._shape = np.hanning(size + 1)[:-1]  # periodic: its squares overlap to a constant
        self._gain = FULL * self.hop / float(np.sum(self._shape**2))
        self._bins = np.arange(size // 2 + 1)
        self._heard = np.zeros(len(self._bins))  # the phases of the window before, as heard
        self._struck = struck / share  # as heard
        self._next_struck = 0
        half = size / 2
        knots = np.concatenate(([0.0], np.stack((struck - half, struck + half), axis=1).ravel()))
        heard = np.concatenate(([0.0], np.stack((self._struck - half, self._struck + half), axis=1).ravel()))
        end = float(len(samples))
        self._places = np.append(knots, max(end, knots[-1] + 1.0))
        self._times = np.append(heard, max(end / share, heard[-1] + 1.0))

    def window(self, number: int) -> Frames:
        """Return a window as it is heard, shape (size, 2)."""
        time = number * self.hop
        begin = round(float(np.interp(time, self._times, self._places))) - self.size // 2
        now = self._spectrum(begin)
        mid = now[:, 0] + now[:, 1]
        turn = np.zeros(len(self._bins))
        if number and not self._begins_anew(time):
            # A partial moves on, from one window to the next that is heard, by what it moves on in the
            # recording over the same time.
            peaks = _peaks(np.abs(mid))
            if len(peaks):
                earlier = self._spectrum(begin - self.hop).sum(axis=1)
                turns = self._heard[peaks] - np.angle(earlier[peaks])
                turn = turns[np.searchsorted((peaks[1:] + peaks[:-1]) / 2, self._bins)]
        self._heard = np.angle(mid) + turn
        heard = np.fft.irfft(now * np.exp(1j * turn)[:, np.newaxis], axis=0)
        return np.asarray(heard * (self._shape * self._gain / FULL)[:, np.newaxis])

    def _begins_anew(self, time: float) -> bool:
        """Return whether an attack's middle comes so near that the recording's own phases are taken."""
        anew = False
        while self._next_struck < len(self._struck) and (
            time >= self._struck[self._next_struck] - ANEW * self.size
        ):
            self._next_struck += 1
            anew = True
        return anew

    def _spectrum(self, begin: int) -> NDArray[np.complex128]:
        """Return the spectra of both channels of a window, shape (bins, 2); silence beyond either end."""
        piece = np.zeros((self.size, 2))
        first, last = max(begin, 0), min(begin + self.size, len(self._samples))
        if first < last:
            piece[first - begin : last - begin] = self._samples[first:last]
        return np.asarray(np.fft.rfft(piece * (self._shape / FULL)[:, np.newaxis], axis=0))


def _peaks(loud: Frames) -> NDArray[np.intp]:
    """Return the bins that are louder than the two on either side."""
    wide = np.concatenate(([-1.0, -1.0], loud, [-1.0, -1.0]))
    here = wide[2:-2]
    return np.flatnonzero(
        (here > wide[:-4]) & (here > wide[1:-3]) & (here >= wide[3:-1]) & (here >= wide[4:])
    )
