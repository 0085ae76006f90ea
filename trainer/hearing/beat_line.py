"""Lay a line through the clicks that were heard of a drill so far, and tell when the recording has jumped.

How alike a click was to the program's own says how far its time can be believed. A share of the times is
clean, a share is blurred by what is played beside it, and the rest is astray: not the click at all. So a time
that lies off is weighed by what it is worth; a likelihood tells what speaks for a jump, against taking all
that lie off for strays. Two clicks that lie off by the same are a jump, and one alone only where it is very
like the program's own and both its front and its best match say the same.

The line's slope is the recording's clock against the song's. It is held near 1 until the clicks say more.
"""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.sound.clicks import Click

Wave = NDArray[np.float64]

JUMP_S = 0.006  # smaller ones are left to the line, which goes with them
LINE_CLICKS = 24  # the latest, that the line goes through
LEAST_CLICKS = 2
# A line is believed by how well its clicks agree, against times that lie anywhere: from the count-in on,
# where nobody plays, or found later.
FIRM_NATS, LATER_FIRM_NATS, MOST_NATS = 4.0, 8.0, 24.0
UNHEARD_NATS = 0.7
ASTRAY_S = 0.030  # over which times that are not the click's at all lie evenly
# Found on the material of tests/benchmarks/lost_sound_study, on other seeds: of clicks of such a likeness,
# the shares of times that are clean and blurred. What is left is astray.
LIKENESS = (0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95)
JUMPED_CLICKS = 6  # at most that a jump is told by
JUMP_NATS = 8.0  # a jump of some size at some click, against none
LONE_NATS, AGREED_S = 8.0, 0.0007  # by one click alone, and then its front must say the same
PLAIN_NATS = 3.0
MATCH_LEAD_S = -0.0009  # of the best match to the front, usually
LEADS_KEPT = 8
LARGEST_LEAD_S = 0.004
CLOCK, CLOCK_KNOWN = 100e-6, 20e-6  # how far the clock may be off, at first and after a jump
LARGEST_DRIFT = 500e-6
ROUNDS = 4
LEAST_SPREAD = 0.2  # of what single fronts are good to


@dataclass(frozen=True, slots=True, kw_only=True)
class _Times:
    """How far times lie off: standard deviations, and shares by likeness."""

    clean_s: float
    blurred_s: float
    clean: tuple[float, ...]
    blurred: tuple[float, ...]

    def density(self, off_s: Wave, likeness: Wave) -> Wave:
        """Return how likely times lie off by so much, per second."""
        clean, blurred = self._parts(off_s, likeness)
        return np.asarray(clean + blurred + (1 - sum(self._shares(likeness))) / ASTRAY_S)

    def weights(self, off_s: Wave, likeness: Wave) -> Wave:
        """Return what each time weighs, one over seconds squared: by how likely it is clean, or blurred."""
        clean, blurred = self._parts(off_s, likeness)
        precise = clean / self.clean_s**2 + blurred / self.blurred_s**2
        return np.asarray(precise / self.density(off_s, likeness))

    def _shares(self, likeness: Wave) -> tuple[Wave, Wave]:
        return np.interp(likeness, LIKENESS, self.clean), np.interp(likeness, LIKENESS, self.blurred)

    def _parts(self, off_s: Wave, likeness: Wave) -> tuple[Wave, Wave]:
        clean, blurred = self._shares(likeness)
        return clean * _bell(off_s, self.clean_s), blurred * _bell(off_s, self.blurred_s)


def _bell(off_s: Wave, deviation_s: float) -> Wave:
    return np.asarray(np.exp(-0.5 * (off_s / deviation_s) ** 2) / (deviation_s * np.sqrt(2 * np.pi)))


FRONTS = _Times(
    clean_s=0.0005,
    blurred_s=0.003,
    clean=(0.15, 0.25, 0.38, 0.55, 0.76, 0.92, 0.985),
    blurred=(0.25, 0.30, 0.30, 0.22, 0.18, 0.065, 0.010),
)
MATCHES = _Times(
    clean_s=0.0003,
    blurred_s=0.0015,
    clean=(0.15, 0.18, 0.22, 0.35, 0.50, 0.68, 0.89),
    blurred=(0.45, 0.55, 0.63, 0.595, 0.485, 0.315, 0.108),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardBeat:
    """A click that was heard.

    Attributes:
        song_s, recorded_s: its second of the song, and that of the recording at which its front came.
        matched_s: second of the recording at which it was most alike to the program's own; this is moved by
            the room's echo, by the same for each click of its kind, and less by a stroke than the front is.
        likeness: how alike it was, 0 to 1.
        kind: which click it is.
    """

    song_s: float
    recorded_s: float
    matched_s: float
    likeness: float
    kind: Click


@dataclass(frozen=True, slots=True, kw_only=True)
class _Jump:
    """A jump: how many of the latest clicks lie beyond it, and the second of the song it lies behind."""

    clicks: int
    from_s: float


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
        self._leads: defaultdict[Click, deque[float]] = defaultdict(lambda: deque(maxlen=LEADS_KEPT))

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

    def miss(self) -> None:
        """Take in that a click was not heard."""
        self._believe(-UNHEARD_NATS)

    def take(self, click: HeardBeat) -> None:
        """Take in the next click."""
        if not self.clicks:
            self._needed = FIRM_NATS if click.song_s < 0 else LATER_FIRM_NATS
        clicks = (*self.clicks, click)
        jumped = self._jumped(clicks)
        if jumped is not None:
            self.jumps.append((jumped.from_s, click.song_s))
            self._usual_slope, self._clock = self._slope, CLOCK_KNOWN
            clicks = clicks[-jumped.clicks :]
        elif self.clicks:
            off_s = np.array([click.recorded_s - self.recorded_s(click.song_s)])
            self._believe(float(np.log(ASTRAY_S * FRONTS.density(off_s, np.array([click.likeness])))[0]))
            if not self.clicks:
                return
        self.clicks = clicks[-LINE_CLICKS:]
        self._fit()
        lead_s = click.matched_s - self.recorded_s(click.song_s)
        if abs(lead_s) < LARGEST_LEAD_S:
            self._leads[click.kind].append(lead_s)

    def _believe(self, nats: float) -> None:
        self._nats = min(self._nats + nats, MOST_NATS)
        if self._nats < 0:  # what was taken for the first clicks was none
            self.clicks, self._nats = (), 0.0

    def _jumped(self, clicks: tuple[HeardBeat, ...]) -> _Jump | None:
        """Return the jump that the last clicks tell of; None without one.

        It goes by the best match and not by the front, which a stroke beside the click moves farther.
        """
        latest = clicks[-JUMPED_CLICKS:]
        if len(clicks) < 2 * LEAST_CLICKS:
            return None
        off_s = np.array(
            [each.matched_s - self.recorded_s(each.song_s) - self._lead_s(each) for each in latest]
        )
        likeness = np.array([each.likeness for each in latest])
        steps = off_s[np.abs(off_s) > JUMP_S]
        if not len(steps):
            return None
        # By how much each click is likelier after a step than without; a step begins at one of them.
        after = np.log(MATCHES.density(off_s - steps[:, None], likeness))
        gains = after - np.log(MATCHES.density(off_s, likeness))
        sums = np.cumsum(gains[:, ::-1], axis=1)
        most = min(len(latest), len(clicks) - LEAST_CLICKS)
        told = sums[:, :most].max(axis=0)
        front_s = latest[-1].recorded_s - self.recorded_s(latest[-1].song_s)
        if told[0] < LONE_NATS or abs(front_s - off_s[-1]) > AGREED_S:
            told[0] = 0.0
        count = 1 + int(np.argmax(told))
        if float(told[count - 1]) < JUMP_NATS:
            return None
        step = int(np.argmax(sums[:, count - 1]))
        # It may lie as far back as the last click that was plainly where it should be.
        plain = np.flatnonzero(gains[step, : len(latest) - count] < -PLAIN_NATS)
        before = latest[int(plain[-1])] if len(plain) else latest[0]
        return _Jump(clicks=count, from_s=before.song_s)

    def _lead_s(self, click: HeardBeat) -> float:
        leads = self._leads[click.kind]
        return float(np.median(leads)) if leads else MATCH_LEAD_S

    def _fit(self) -> None:
        song_s = np.array([each.song_s for each in self.clicks])
        recorded_s = np.array([each.recorded_s for each in self.clicks])
        likeness = np.array([each.likeness for each in self.clicks])
        x = song_s - song_s[-1]
        y = recorded_s - recorded_s[-1] - self._usual_slope * x
        drift = self._slope - self._usual_slope
        level = y - drift * x
        # Begin where most clicks agree, so that none that is astray takes the line with it.
        agreed = np.log(FRONTS.density(level - level[:, None], likeness)).sum(axis=1)
        at = float(level[int(np.argmax(agreed))])
        for _round in range(ROUNDS):
            weights = FRONTS.weights(y - at - drift * x, likeness)
            tilt = weights @ x
            known = np.array([[weights.sum(), tilt], [tilt, weights @ x**2 + self._clock**-2]])
            at, drift = np.linalg.solve(known, [weights @ y, weights @ (x * y)])
        self._slope = float(np.clip(self._usual_slope + drift, 1 - LARGEST_DRIFT, 1 + LARGEST_DRIFT))
        self._song_s, self._recorded_s = float(song_s[-1]), float(recorded_s[-1] + at)
        spread = float(np.sqrt(weights @ (y - at - drift * x) ** 2 / len(x)))
        self._error_s = max(LEAST_SPREAD, spread) * float(np.sqrt(np.linalg.inv(known)[0, 0]))
