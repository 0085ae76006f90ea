"""Measure how much sounds that did not sound before, line by line of the spectrum: what tells soft sounds.

A string that is touched instead of played is 20 dB softer than the strings that ring on beside it, so in
wide bands it is lost. But these fill only some lines of the spectrum. Each line is compared with the most
it held in the tenth of a second before, so a partial that rings on or beats adds nothing; what counts is the
mean over all lines of the growth that is left, log((after + floor) / (before + floor)), beyond what noise
grows by. The floor lies well above what the room makes, line by line.

The numbers were chosen on one sampled banjo; see tests/benchmarks/hearing_study.
"""

from __future__ import annotations

import numpy as np

from trainer.hearing.bands import DEAF_HZ, RATE, Wave

LOWEST_HZ, HIGHEST_HZ = 100.0, 6000.0
AFTER = 3  # frames, 11 ms more than one frame's own length, over which what is new has to last
APART = 8  # frames from what is after back to what is before, so that they share no sound
BEFORE = 15  # frames, 80 ms
FLOOR_SHARE = 10.0  # percentile
LEAST_GROWTH = 0.5  # natural logarithm; noise and beats grow by less
OVER_FLOOR = 30.0  # times that power: noise that comes and goes does not reach it
FLOOR_SAMPLED, FLOOR_FRAMES = 8, 128  # every eighth frame, 5.5 s of them, tells the floor
FLOOR_EVERY, FLOOR_RARELY = 32, 160  # frames between two looks at it, in the first second and later
WIDELY_DEAF_HZ = 650.0  # half the width of what a click's tone fills, 50 dB over the room where it is highest
LEAST_FLOOR = 1e-8  # of a line's power: digital silence has no floor of its own


class Newness:
    """Measures newness in frames of a spectrum that come one after another, 256 samples apart.

    Args:
        frame: samples in a frame.
        deaf_hz: frequencies round which nothing is heard: a click's tone, and the overtones that a
            loudspeaker may add.
    """

    def __init__(self, frame: int, deaf_hz: tuple[float, ...] = ()) -> None:
        hz = np.fft.rfftfreq(frame, 1 / RATE)
        heard = (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ)
        self._of = int(heard.sum())
        for number, deaf in enumerate(deaf_hz):
            heard &= np.abs(hz - deaf) >= (DEAF_HZ if number else WIDELY_DEAF_HZ)
        self._lines = np.flatnonzero(heard)
        self._kept = np.zeros((0, len(self._lines)))  # powers of the latest frames
        self._logs = np.zeros_like(self._kept)  # of these and the floor
        self._sampled: list[Wave] = []
        self._floor = np.full(len(self._lines), LEAST_FLOOR)
        self._taken = 0

    def push(self, magnitudes: Wave) -> Wave:
        """Return the newness of as many frames as come, each AFTER - 1 frames late; 0 while little is known.

        Args:
            magnitudes: shape (frames, frame // 2 + 1).
        """
        told = []
        while len(magnitudes):
            # Up to the next look at the floor, so that the pieces' lengths change nothing.
            count = min(len(magnitudes), FLOOR_EVERY - self._taken % FLOOR_EVERY)
            told.append(self._take(magnitudes[:count, self._lines] ** 2))
            magnitudes = magnitudes[count:]
        return np.concatenate(told) if told else np.zeros(0)

    def _take(self, powers: Wave) -> Wave:
        if not self._taken:
            self._floor = self._usual(powers)  # better than none
        count, context = len(powers), BEFORE + APART + AFTER - 1
        known = np.concatenate([self._logs, np.log(powers + self._floor)])
        new = np.zeros(count)
        whole = len(known) - context
        if whole > 0:
            windows = np.lib.stride_tricks.sliding_window_view(known, BEFORE, axis=0)[:whole]
            before = windows.max(axis=-1)
            first = BEFORE + APART
            after = sum(known[first + n : first + n + whole] for n in range(AFTER)) / AFTER
            # The mean over all lines: where little is listened to, chance is not to weigh more.
            new[count - whole :] = np.maximum(0.0, after - before - LEAST_GROWTH).sum(axis=1) / self._of
        self._kept = np.concatenate([self._kept, powers])[-context:]
        self._logs = known[-context:]
        for number in range(count):
            if (self._taken + number) % FLOOR_SAMPLED == 0:
                self._sampled.append(powers[number])
        self._taken += count
        if self._taken % (FLOOR_EVERY if self._taken < FLOOR_RARELY else FLOOR_RARELY) == 0:
            self._sampled = self._sampled[-FLOOR_FRAMES:]
            self._floor = self._usual(np.array(self._sampled))
            self._logs = np.log(self._kept + self._floor)
        return new

    @staticmethod
    def _usual(powers: Wave) -> Wave:
        return np.asarray(OVER_FLOOR * np.maximum(np.percentile(powers, FLOOR_SHARE, axis=0), LEAST_FLOOR))
