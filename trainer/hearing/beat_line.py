"""Lay a line through the clicks that were heard of a drill so far, anew wherever the recording has jumped.

How much speaks for a click says how far its time can be believed. A share of the times is clean, a share is
blurred by what is played beside it, and the rest is astray: not the click at all. So a time that lies off is
weighed by what it is worth. Whether the recording has jumped is told by :mod:`.jumps`, not by these times but
by all that was heard near the latest clicks.

The line's slope is the recording's clock against the song's. It is held near 1 until the clicks say more.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.hearing.click_trace import ClickTrace
from trainer.hearing.jumps import JUMPED_CLICKS, Echoes, sizes_within, told_jump
from trainer.sound.clicks import Click

Wave = NDArray[np.float64]

LINE_CLICKS = 24  # the latest, that the line goes through
LEAST_CLICKS = 2
# A line is believed by how well its clicks agree, against times that lie anywhere: from the count-in on,
# where nobody plays, or found later.
FIRM_NATS, LATER_FIRM_NATS, MOST_NATS = 4.0, 8.0, 24.0
UNHEARD_NATS = 0.7
ASTRAY_S = 0.020  # twice NEAR_S, over which times that are not the click's at all lie evenly
# Of clicks for which so much speaks, the shares of times that are clean and blurred; what is left is astray.
# Found on the material of tests/benchmarks/lost_sound_study, on other seeds and two plucked instruments more.
TOLD = (0.1, 0.2, 0.3, 0.45, 0.6, 0.8, 1.0, 1.3, 1.6)
NEAR_S, AGREED_S = 0.010, 0.003  # round where a click should be, and where it is behind a jump
LEAST_TOLD = 0.1
CLOCK, CLOCK_KNOWN = 100e-6, 20e-6  # how far the clock may be off, at first and after a jump
LARGEST_DRIFT = 500e-6
ROUNDS = 4
LEAST_SPREAD = 0.2  # of what single fronts are good to


@dataclass(frozen=True, slots=True, kw_only=True)
class _Times:
    """How far times lie off: standard deviations, and shares by how much speaks for the click."""

    clean_s: float
    blurred_s: float
    clean: tuple[float, ...]
    blurred: tuple[float, ...]

    def density(self, off_s: Wave, told: Wave) -> Wave:
        """Return how likely times lie off by so much, per second."""
        clean, blurred = self._parts(off_s, told)
        return np.asarray(clean + blurred + (1 - sum(self._shares(told))) / ASTRAY_S)

    def weights(self, off_s: Wave, told: Wave) -> Wave:
        """Return what each time weighs, one over seconds squared: by how likely it is clean, or blurred."""
        clean, blurred = self._parts(off_s, told)
        precise = clean / self.clean_s**2 + blurred / self.blurred_s**2
        return np.asarray(precise / self.density(off_s, told))

    def _shares(self, told: Wave) -> tuple[Wave, Wave]:
        return np.interp(told, TOLD, self.clean), np.interp(told, TOLD, self.blurred)

    def _parts(self, off_s: Wave, told: Wave) -> tuple[Wave, Wave]:
        clean, blurred = self._shares(told)
        return clean * _bell(off_s, self.clean_s), blurred * _bell(off_s, self.blurred_s)


def _bell(off_s: Wave, deviation_s: float) -> Wave:
    return np.asarray(np.exp(-0.5 * (off_s / deviation_s) ** 2) / (deviation_s * np.sqrt(2 * np.pi)))


FRONTS = _Times(
    clean_s=0.0003,
    blurred_s=0.0015,
    clean=(0.01, 0.04, 0.10, 0.26, 0.44, 0.69, 0.83, 0.92, 0.99),
    blurred=(0.14, 0.24, 0.41, 0.48, 0.48, 0.29, 0.16, 0.075, 0.008),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardBeat:
    """A click that was heard.

    Attributes:
        song_s, recorded_s: its second of the song, and that of the recording at which its front came.
        told: how much speaks for it, 0 to 2.
    """

    song_s: float
    recorded_s: float
    told: float


class BeatLine:
    """Where seconds of the song lie in a recording that is still going on.

    Attributes:
        clicks: those that the line goes through, in order.
        jumps: seconds of the song between which the recording has jumped, in order.
    """

    def __init__(self) -> None:
        self.clicks: tuple[HeardBeat, ...] = ()
        self.jumps: list[tuple[float, float]] = []
        self._slope = self._usual_slope = 1.0
        self._clock = CLOCK
        self._song_s = self._recorded_s = 0.0
        self._error_s = 0.0
        self._nats, self._needed = 0.0, FIRM_NATS
        self._latest: deque[tuple[float, ClickTrace]] = deque(maxlen=JUMPED_CLICKS)
        self._echoes: defaultdict[Click, Echoes] = defaultdict(Echoes)

    @property
    def is_firm(self) -> bool:
        """Whether the clicks agree so well that they are the drill's."""
        return len(self.clicks) >= LEAST_CLICKS and self._nats >= self._needed

    @property
    def uncertainty_s(self) -> float:
        """Twice the standard error of the line at its end; 0 while it is not firm."""
        return 2 * self._error_s if self.is_firm else 0.0

    def recorded_s(self, song_s: float) -> float:
        """Return the second of the recording of a second of the song; only where there are clicks."""
        return self._recorded_s + (song_s - self._song_s) * self._slope

    def song_s(self, recorded_s: float) -> float:
        """Return the second of the song of a second of the recording; only where there are clicks."""
        return self._song_s + (recorded_s - self._recorded_s) / self._slope

    def begin(self, click: HeardBeat) -> None:
        """Begin with a click, as it seems."""
        self._needed = FIRM_NATS if click.song_s < 0 else LATER_FIRM_NATS
        self.clicks = (click,)
        self._fit()

    def take(self, song_s: float, trace: ClickTrace) -> None:
        """Take in what speaks for each place near that of the next click; only where there are clicks."""
        self._latest.append((song_s, trace))
        if self._has_jumped():
            return
        place_s = self.recorded_s(song_s)
        found = trace.found(place_s, NEAR_S)
        if found.told < LEAST_TOLD:
            self._believe(-UNHEARD_NATS)
            return
        off_s, told = np.array([found.at_s - place_s]), np.array([found.told])
        self._believe(float(np.log(ASTRAY_S * FRONTS.density(off_s, told))[0]))
        if self.clicks:
            click = HeardBeat(song_s=song_s, recorded_s=found.at_s, told=found.told)
            self.clicks = (*self.clicks, click)[-LINE_CLICKS:]
            self._fit()
            self._echoes[trace.click].learn(trace, self.recorded_s(song_s))

    def _believe(self, nats: float) -> None:
        self._nats = min(self._nats + nats, MOST_NATS)
        if self._nats < 0:  # what was taken for the first clicks was none
            self.clicks, self._nats = (), 0.0

    def _has_jumped(self) -> bool:
        """Begin the line anew behind a jump, where the latest clicks tell of one; return whether they do."""
        before = [each.song_s for each in self.clicks]
        if len(before) < LEAST_CLICKS:
            return False
        latest = [each for each in self._latest if each[0] > before[LEAST_CLICKS - 1]]
        sizes_s = sizes_within(max(trace.reach_s for _song_s, trace in latest))
        told = np.array(
            [
                self._echoes[trace.click].told(trace, self.recorded_s(song_s) + sizes_s)
                for song_s, trace in latest
            ]
        )
        jump = told_jump(told, sizes_s)
        if jump is None:
            return False
        sure = len(latest) - jump.clicks - jump.doubtful
        from_s = latest[sure - 1][0] if sure else max(each for each in before if each < latest[0][0])
        self.jumps.append((from_s, latest[-1][0]))
        self._usual_slope, self._clock = self._slope, CLOCK_KNOWN
        found = [
            (song_s, trace.found(self.recorded_s(song_s) + jump.size_s, AGREED_S))
            for song_s, trace in latest[-jump.clicks :]
        ]
        self.clicks = tuple(HeardBeat(song_s=s, recorded_s=each.at_s, told=each.told) for s, each in found)
        self._latest.clear()
        self._fit()
        return True

    def _fit(self) -> None:
        song_s = np.array([each.song_s for each in self.clicks])
        recorded_s = np.array([each.recorded_s for each in self.clicks])
        told = np.array([each.told for each in self.clicks])
        x = song_s - song_s[-1]
        y = recorded_s - recorded_s[-1] - self._usual_slope * x
        drift = self._slope - self._usual_slope
        level = y - drift * x
        # Begin where most clicks agree, so that none that is astray takes the line with it.
        agreed = np.log(FRONTS.density(level - level[:, None], told)).sum(axis=1)
        at = float(level[int(np.argmax(agreed))])
        for _round in range(ROUNDS):
            weights = FRONTS.weights(y - at - drift * x, told)
            tilt = weights @ x
            known = np.array([[weights.sum(), tilt], [tilt, weights @ x**2 + self._clock**-2]])
            at, drift = np.linalg.solve(known, [weights @ y, weights @ (x * y)])
        self._slope = float(np.clip(self._usual_slope + drift, 1 - LARGEST_DRIFT, 1 + LARGEST_DRIFT))
        self._song_s, self._recorded_s = float(song_s[-1]), float(recorded_s[-1] + at)
        spread = float(np.sqrt(weights @ (y - at - drift * x) ** 2 / len(x)))
        self._error_s = max(LEAST_SPREAD, spread) * float(np.sqrt(np.linalg.inv(known)[0, 0]))
