"""Follow the clicks of a drill as the microphone hears them, so that strokes are placed against these.

It is known which click is due and about when, so each is looked for by itself, see :mod:`.click_trace`. The
first one, of the count-in, is looked for over all that a device can be late by.
A line through the latest clicks then turns a second of the recording into one of the song; no delay of any
device is in it, and no host clock. What is left is the way of the sound: 1 ms for 34 cm that the loudspeaker
is farther from the microphone than the banjo.

Where sound is lost on the way in, the clicks after it come early by as much, see :mod:`.beat_line`. The line
begins anew there, and what lies between cannot be placed.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

import numpy as np

from trainer.hearing.bands import RATE, Wave
from trainer.hearing.beat_line import BeatLine
from trainer.hearing.click_times import HeardBeat
from trainer.hearing.click_trace import ClickTrace, click_trace, reach_s
from trainer.sound.clicks import Click, ClickVoice
from trainer.sound.knocks import COMPARED_S, PLAIN, HeardClick, find_clicks

EARLIEST_S, LATEST_S = -0.060, 0.400  # where the first click may be, from where it would be without a delay
ECHO_S = 0.060  # an echo may be more like the first click than the click itself, up to so much after it
NEAR_S, ALIKE_S = 0.015, 0.002
LAST_GAP_S = 0.3  # behind the last click that is due
KEPT_S = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class DueClick:
    """A click of the drill: its second of the song, and which it is."""

    song_s: float
    click: Click


class HeardBeats:
    """Hears the clicks of one drill, in sound that comes in pieces, mono at 48 kHz.

    Args:
        voice: what the clicks are made of.
    """

    def __init__(self, voice: ClickVoice) -> None:
        self._voice = voice
        self._kept = np.zeros(0)
        self._from = 0  # frame of the recording at which what is kept begins
        self._due: deque[DueClick] = deque()
        self._line = BeatLine()

    @property
    def jumps(self) -> list[tuple[float, float]]:
        """Seconds of the song between which the recording has jumped, in order."""
        return self._line.jumps

    @property
    def is_firm(self) -> bool:
        """Whether seconds of the song can be told."""
        return self._line.is_firm

    @property
    def uncertainty_s(self) -> float:
        """Twice the standard error of the line where it is used, at its end."""
        return self._line.uncertainty_s

    def expect(self, click: DueClick) -> None:
        """Add a click that is due after those added before."""
        self._due.append(click)

    def push(self, piece: Wave) -> None:
        """Take in the next piece of sound."""
        self._kept = np.concatenate([self._kept, piece])
        spare = max(0, len(self._kept) - round(KEPT_S * RATE))
        self._kept, self._from = self._kept[spare:], self._from + spare

    def look(self, zero_s: float) -> None:
        """Look for the clicks that must have come by now.

        Args:
            zero_s: about the second of the recording at which second 0 of the song would be heard without
                any delay.
        """
        end_s = (self._from + len(self._kept)) / RATE
        while self._due:
            due = self._due[0]
            place_s = self._line.recorded_s(due.song_s) if self._line.clicks else None
            if place_s is not None:
                gap_s = self._due[1].song_s - due.song_s if len(self._due) > 1 else LAST_GAP_S
                looked_s = reach_s(gap_s)
                first_s, last_s = place_s - looked_s, place_s + looked_s
            else:
                first_s = zero_s + due.song_s + EARLIEST_S
                last_s = zero_s + due.song_s + LATEST_S
            if last_s + 2 * COMPARED_S > end_s:
                return
            self._due.popleft()
            if place_s is None:
                self._begin(due, first_s, last_s)
            else:
                self._line.take(due.song_s, self._trace(due.click, place_s, looked_s))

    def song_s(self, recorded_s: float) -> float | None:
        """Return the second of the song that was heard at a second of the recording; None while unknown."""
        return self._line.song_s(recorded_s) if self.is_firm else None

    def _first(self, click: Click, first_s: float, last_s: float) -> HeardClick | None:
        """Return the earliest that is plain: nothing clicks before the first click of the count-in."""
        plain = [each for each in self._found(click, first_s, last_s) if each.likeness >= PLAIN]
        if not plain:
            return None
        before = self._found(click, plain[0].time_s - ECHO_S, plain[0].time_s - NEAR_S / 2)
        return next((each for each in before if each.likeness >= PLAIN), plain[0])

    def _found(self, click: Click, first_s: float, last_s: float) -> list[HeardClick]:
        """Return where a click may have begun between two seconds, in order."""
        start = max(0, round((first_s - COMPARED_S) * RATE) - self._from)
        stop = max(start, round((last_s + 2 * COMPARED_S) * RATE) - self._from)
        from_s = (start + self._from) / RATE
        within_s = (first_s - from_s, last_s - from_s)
        piece = self._kept[start:stop]
        return [
            replace(each, time_s=each.time_s + from_s)
            for each in find_clicks(piece, RATE, (click,), voice=self._voice, beside=True, within_s=within_s)
        ]

    def _begin(self, due: DueClick, first_s: float, last_s: float) -> None:
        first = self._first(due.click, first_s, last_s)
        if first is not None:
            found = self._trace(due.click, first.time_s, NEAR_S).found(first.time_s, ALIKE_S)
            self._line.begin(HeardBeat(song_s=due.song_s, recorded_s=found.at_s, told=found.told))

    def _trace(self, click: Click, place_s: float, reach_s: float) -> ClickTrace:
        return click_trace(self._kept, self._from / RATE, place_s, reach_s, click, self._voice)
