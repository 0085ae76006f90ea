"""Weigh the times of heard clicks by what each is worth, and lay a line through them.

How much speaks for a click says how far its time can be believed. A share of the times is clean, a share is
blurred by what is played beside it, and the rest is astray: not the click at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trainer.hearing.bands import Wave

CLEAN_S, BLURRED_S = 0.0003, 0.0015  # standard deviations
ASTRAY_S = 0.020  # over which times that are not the click's at all lie evenly
# Of clicks for which so much speaks, the shares of times that are clean and blurred; what is left is astray.
# Found on the material of tests/benchmarks/lost_sound_study, on other seeds and two plucked instruments more.
TOLD = (0.1, 0.2, 0.3, 0.45, 0.6, 0.8, 1.0, 1.3, 1.6)
CLEAN = (0.01, 0.04, 0.10, 0.26, 0.44, 0.69, 0.83, 0.92, 0.99)
BLURRED = (0.14, 0.24, 0.41, 0.48, 0.48, 0.29, 0.16, 0.075, 0.008)
ROUNDS = 4
LEAST_SPREAD = 0.2  # of what single times are good to
LEAST_SHARE = 0.5  # of a time that counts as one on the line, that it is the click's


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardBeat:
    """A click that was heard.

    Attributes:
        song_s, recorded_s: its second of the song, and that of the recording at which it began.
        told: how much speaks for it, 0 to 2.
    """

    song_s: float
    recorded_s: float
    told: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedLine:
    """A line through clicks.

    Attributes:
        song_s, recorded_s: its point at the last click.
        slope: seconds of the recording to one of the song.
        error_s: standard error of that point.
        spread_s: standard deviation of the clicks about the line, as far as each is believed.
        clicks: how many of them lie on it.
        nats: what they say for it, against times that lie anywhere.
    """

    song_s: float
    recorded_s: float
    slope: float
    error_s: float
    spread_s: float
    clicks: int
    nats: float

    def at(self, song_s: float) -> float:
        """Return the second of the recording of a second of the song."""
        return self.recorded_s + (song_s - self.song_s) * self.slope


def nats_for(off_s: float, told: float) -> float:
    """Return what a click that lies off by so much says for its line, against times that lie anywhere."""
    return float(np.log(ASTRAY_S * _density(np.array([off_s]), np.array([told])))[0])


def fitted(clicks: Sequence[HeardBeat], *, slope: float, usual_slope: float, clock: float) -> FittedLine:
    """Return the line through clicks, in order.

    Args:
        slope: about what it is.
        usual_slope, clock: what it is likely to be, and how far off that.
    """
    song_s = np.array([each.song_s for each in clicks])
    recorded_s = np.array([each.recorded_s for each in clicks])
    told = np.array([each.told for each in clicks])
    x = song_s - song_s[-1]
    y = recorded_s - recorded_s[-1] - usual_slope * x
    drift = slope - usual_slope
    level = y - drift * x
    # Begin where most clicks agree, so that none that is astray takes the line with it.
    agreed = np.log(_density(level - level[:, None], told)).sum(axis=1)
    at = float(level[int(np.argmax(agreed))])
    for _round in range(ROUNDS):
        weights = _weights(y - at - drift * x, told)
        tilt = weights @ x
        known = np.array([[weights.sum(), tilt], [tilt, weights @ x**2 + clock**-2]])
        at, drift = np.linalg.solve(known, [weights @ y, weights @ (x * y)])
    off_s = y - at - drift * x
    spread = float(np.sqrt(weights @ off_s**2 / len(x)))
    return FittedLine(
        song_s=float(song_s[-1]),
        recorded_s=float(recorded_s[-1] + at),
        slope=usual_slope + float(drift),
        error_s=max(LEAST_SPREAD, spread) * float(np.sqrt(np.linalg.inv(known)[0, 0])),
        spread_s=float(np.sqrt(weights @ off_s**2 / weights.sum())),
        clicks=int((weights * BLURRED_S**2 > LEAST_SHARE).sum()),
        nats=float(np.log(ASTRAY_S * _density(off_s, told)).sum()),
    )


def _density(off_s: Wave, told: Wave) -> Wave:
    """Return how likely times lie off by so much, per second."""
    clean, blurred = _parts(off_s, told)
    astray = 1 - np.interp(told, TOLD, CLEAN) - np.interp(told, TOLD, BLURRED)
    return np.asarray(clean + blurred + astray / ASTRAY_S)


def _weights(off_s: Wave, told: Wave) -> Wave:
    """Return what each time weighs, one over seconds squared: by how likely it is clean, or blurred."""
    clean, blurred = _parts(off_s, told)
    return np.asarray((clean / CLEAN_S**2 + blurred / BLURRED_S**2) / _density(off_s, told))


def _parts(off_s: Wave, told: Wave) -> tuple[Wave, Wave]:
    clean = np.interp(told, TOLD, CLEAN) * _bell(off_s, CLEAN_S)
    return clean, np.interp(told, TOLD, BLURRED) * _bell(off_s, BLURRED_S)


def _bell(off_s: Wave, deviation_s: float) -> Wave:
    return np.asarray(np.exp(-0.5 * (off_s / deviation_s) ** 2) / (deviation_s * np.sqrt(2 * np.pi)))
