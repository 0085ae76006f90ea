"""Follow the clicks of a drill as the microphone hears them, so that strokes are placed against these.

It is known which click is due and about when, so each is looked for by itself: a matched filter over a few
hundredths of a second. The first one, of the count-in, is looked for over all that a device can be late by.
A line through the latest clicks then turns a second of the recording into one of the song; no delay of any
device is in it, and no host clock. What is left is the way of the sound: 1 ms for 34 cm that the loudspeaker
is farther from the microphone than the banjo.

Where sound is lost on the way in, the clicks after it come early by as much: one that nothing sounds over, or
two in a row that lie off on one side, are a jump. The line begins anew there, and what lies between cannot be
placed.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np

from trainer.hearing.bands import RATE, Wave
from trainer.hearing.click_line import JUMP_S, LINE_CLICKS
from trainer.hearing.tone_edge import tone_began_s
from trainer.sound.clicks import Click, ClickVoice
from trainer.sound.knocks import COMPARED_S, PLAIN, find_clicks

EARLIEST_S, LATEST_S = -0.060, 0.400  # where the first click may be, from where it would be without a delay
LOOKED_S, LOOKED_SHARE = 0.120, 0.4  # round the place where a click should be; of the way to the next
NEAR_S = 0.015
LIKELY, FAR_LIKELY = 0.36, 0.5  # in likeness to the program's own click, near that place and far from it
SURE = 0.75  # so alike nothing is that is none of the clicks
FIRM_CLICKS = 2  # so many that agree are no chance
AGREED_S = 0.005
LINED_CLICKS = 8  # with fewer the recording's clock is taken to be right
LARGEST_DRIFT = 500e-6
KEPT_S = 1.5
FORGOTTEN_S = 1.0  # a click that cannot be looked for within this was not heard
OUTLIER_MADS, LEAST_OUTLIER_S = 4.0, 0.002
UNHEARD_CLICKS = 2 * LINE_CLICKS  # so many in a row, and the line says nothing any more


@dataclass(frozen=True, slots=True, kw_only=True)
class DueClick:
    """A click of the drill: its second of the song, and which it is."""

    song_s: float
    click: Click


class HeardBeats:
    """Hears the clicks of one drill, in sound that comes in pieces, mono at 48 kHz.

    Args:
        voice: what the clicks are made of.

    Attributes:
        heard: how many clicks were heard since the beginning.
        jumps: seconds of the song between which the recording has jumped, in order.
    """

    def __init__(self, voice: ClickVoice) -> None:
        self._voice = voice
        self._kept = np.zeros(0)
        self._from = 0  # frame of the recording at which what is kept begins
        self._due: deque[DueClick] = deque()
        self._points: list[tuple[float, float]] = []  # second of the song, second of the recording
        self._doubtful: tuple[float, float] | None = None
        self._slope = 1.0
        self._middle = (0.0, 0.0)
        self._unheard = 0
        self._spread_s = 0.0
        self.heard = 0
        self.jumps: list[tuple[float, float]] = []

    @property
    def is_firm(self) -> bool:
        """Whether seconds of the song can be told."""
        return len(self._points) >= FIRM_CLICKS and self._unheard < UNHEARD_CLICKS

    @property
    def uncertainty_s(self) -> float:
        """Twice the standard error of the line where it is used, at its end."""
        if len(self._points) < FIRM_CLICKS:
            return 0.0
        share = 4 if len(self._points) >= LINED_CLICKS else 1  # the end of a line with a slope
        return 2 * self._spread_s * float(np.sqrt(share / len(self._points)))

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
            place_s = self._recorded_s(due.song_s) if self._points else None
            if place_s is not None:
                gap_s = self._due[1].song_s - due.song_s if len(self._due) > 1 else LOOKED_S
                looked_s = min(LOOKED_S, LOOKED_SHARE * gap_s)
                first_s, last_s = place_s - looked_s, place_s + looked_s
            else:
                first_s = zero_s + due.song_s + EARLIEST_S
                last_s = zero_s + due.song_s + LATEST_S
            if last_s + 2 * COMPARED_S > end_s:
                return
            self._due.popleft()
            self._take(due, *self._find(due.click, first_s, last_s, place_s))

    def song_s(self, recorded_s: float) -> float | None:
        """Return the second of the song that was heard at a second of the recording; None while unknown."""
        if not self.is_firm:
            return None
        song, recorded = self._middle
        return song + (recorded_s - recorded) / self._slope

    def _recorded_s(self, song_s: float) -> float:
        song, recorded = self._middle
        return recorded + (song_s - song) * self._slope

    def _find(
        self, click: Click, first_s: float, last_s: float, place_s: float | None
    ) -> tuple[float | None, float]:
        """Return when a click began, None where it is not heard, and how alike it is."""
        start = max(0, round(first_s * RATE) - self._from)
        stop = round((last_s + 2 * COMPARED_S) * RATE) - self._from
        piece = self._kept[start : max(start, stop)]
        found = find_clicks(piece, RATE, (click,), voice=self._voice, beside=True)
        from_s = (start + self._from) / RATE
        times = [(each.time_s + from_s, each.likeness) for each in found]
        if self._voice is ClickVoice.TONE:
            times = [(tone_began_s(piece, from_s, at_s, click), likeness) for at_s, likeness in times]
        if place_s is None:
            # Nothing clicks before the first click of the count-in, so it is the earliest that is plain.
            return next((each for each in times if each[1] >= PLAIN), (None, 0.0))
        near = [each for each in times if abs(each[0] - place_s) <= NEAR_S and each[1] >= LIKELY]
        far = [each for each in times if each[1] >= FAR_LIKELY]
        return max(near or far, key=lambda each: each[1], default=(None, 0.0))

    def _take(self, due: DueClick, found_s: float | None, likeness: float) -> None:
        if found_s is None:
            self._unheard += 1
            if len(self._points) < FIRM_CLICKS:
                self._points = []  # what was taken for a first click was none
            return
        point = (due.song_s, found_s)
        off_s = found_s - self._recorded_s(due.song_s) if self._points else 0.0
        if 0 < len(self._points) < FIRM_CLICKS and abs(off_s) > AGREED_S:
            self._points = []
            return
        self._unheard = 0
        self.heard += 1
        if abs(off_s) > JUMP_S:
            self._doubt(point, off_s, is_sure=likeness >= SURE)
            return
        self._doubtful = None
        self._points = [*self._points, point][-LINE_CLICKS:]
        self._fit()

    def _doubt(self, point: tuple[float, float], off_s: float, *, is_sure: bool) -> None:
        """Take in a click that lies off: the second in a row on one side is a jump, or one that is sure."""
        if is_sure and len(self._points) >= LINED_CLICKS // 2:
            self.jumps.append((self._points[-1][0], point[0]))
            # The line goes on beside itself, so that its slope is kept.
            moved = [(song_s, recorded_s + off_s) for song_s, recorded_s in self._points]
            self._points, self._doubtful = [*moved, point][-LINE_CLICKS:], None
            self._fit()
            return
        before, self._doubtful = self._doubtful, point
        if before is None:
            return
        off_before_s = before[1] - self._recorded_s(before[0])
        if off_before_s * off_s <= 0 or abs(off_before_s - off_s) > JUMP_S:
            return
        self.jumps.append((self._points[-1][0], point[0]))
        self._points, self._doubtful = [before, point], None
        self._fit()

    def _fit(self) -> None:
        points = np.array(self._points)
        songs, recorded = points[:, 0], points[:, 1]
        chosen = np.ones(len(points), dtype=bool)
        for _round in range(2):
            x, y = songs[chosen], recorded[chosen]
            middle = x - x.mean()
            slope = 1.0
            if chosen.sum() >= LINED_CLICKS:
                slope = float(middle @ (y - y.mean())) / max(float(middle @ middle), 1e-12)
                slope = min(max(slope, 1 - LARGEST_DRIFT), 1 + LARGEST_DRIFT)
            off = recorded - (y.mean() + slope * (songs - x.mean()))
            limit = max(OUTLIER_MADS * float(np.median(np.abs(off))), LEAST_OUTLIER_S)
            self._slope, self._middle = slope, (float(x.mean()), float(y.mean()))
            self._spread_s = float(off[chosen].std())
            chosen = np.abs(off) <= limit
            if chosen.sum() < FIRM_CLICKS:
                return
