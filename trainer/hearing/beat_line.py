"""Lay a line through the clicks that were heard of a drill so far, anew wherever the recording has jumped.

Each click is weighed by what its time is worth, see :mod:`.click_times`. Whether the recording has jumped is
told by :mod:`.jumps`, not by these times but by all that was heard near the latest clicks.

The line's slope is the recording's clock against the song's. It is held near 1 until the clicks say more.
"""

from __future__ import annotations

from collections import defaultdict, deque

import numpy as np

from trainer.hearing.click_times import HeardBeat, fitted, nats_for
from trainer.hearing.click_trace import ClickTrace
from trainer.hearing.jumps import JUMPED_CLICKS, Echoes, sizes_within, told_jump
from trainer.sound.clicks import Click

LINE_CLICKS = 24  # the latest, that the line goes through
LEAST_CLICKS = 2
# A line is believed by how well its clicks agree, against times that lie anywhere: from the count-in on,
# where nobody plays, or found later.
FIRM_NATS, LATER_FIRM_NATS, MOST_NATS = 4.0, 8.0, 24.0
UNHEARD_NATS = 0.7
NEAR_S, AGREED_S = 0.010, 0.003  # round where a click should be, and where it is behind a jump
LEAST_TOLD = 0.1
CLOCK, CLOCK_KNOWN = 100e-6, 20e-6  # how far the clock may be off, at first and after a jump
LARGEST_DRIFT = 5  # times what it may be off at first


class BeatLine:
    """Where seconds of the song lie in a recording that is still going on.

    Args:
        clock: how far the recording's clock may be off against the song's, at first.

    Attributes:
        clicks: those that the line goes through, in order.
        jumps: seconds of the song between which the recording has jumped, in order.
    """

    def __init__(self, clock: float = CLOCK) -> None:
        self.clicks: tuple[HeardBeat, ...] = ()
        self.jumps: list[tuple[float, float]] = []
        self._slope = self._usual_slope = 1.0
        self._clock = self._at_first = clock
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
        self._believe(nats_for(found.at_s - place_s, found.told))
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
        line = fitted(self.clicks, slope=self._slope, usual_slope=self._usual_slope, clock=self._clock)
        most = LARGEST_DRIFT * self._at_first
        self._slope = min(max(line.slope, 1 - most), 1 + most)
        self._song_s, self._recorded_s, self._error_s = line.song_s, line.recorded_s, line.error_s
