"""Take our own lateness off a MIDI stamp, where the driver's own times can be believed.

A message is stamped when Python hears of it, which is late by whatever the interpreter was busy with; the
driver hands along how long it was since the message before. Where those deltas are honest (ALSA, CoreMIDI
and WinMM stamp the message itself), their sum runs beside the arrivals and every arrival lies above it by
a delay that is never negative. So the smallest delay seen lately is the way that every message has to go,
and what a message took longer is ours. The least delay itself stays in: it is a constant, which
calibration takes off. The idea of the lower envelope is that of clock filters in network time (D. Mills,
RFC 5905, section 10: the sample of least delay is the one to believe).

A stamp is never later than the arrival and, but for the drift of two clocks, with an honest driver never
earlier than the truth, so it is the better of the two. Nothing is believed, and the arrival stands, where

- fewer than thirty-two messages have come;
- too few of them, or too few of their older or newer half, took about the least delay: deltas that were lost
  with filtered messages, or told twice for one packet, move it for good (python-rtmidi's threads 83 and 204),
  and a driver that rounds down to a period of its own has none; whole milliseconds (WinMM) are known and
  allowed for;
- three messages in a row look late: then it is not us, it is a delta that was lost;
- the message would be moved by more than our own lateness can be.
"""

from __future__ import annotations

from collections import deque

import numpy as np

MESSAGES = 32
NEAR_NS = 200_000  # messages that found the interpreter free lie this close above the least delay
LEAST_NEAR = 13  # of 32; of times rounded to a period of 1.3 ms about five lie there by chance
LEAST_NEAR_IN_HALF = 5
LATE_IN_A_ROW = 3
FARTHEST_NS = 3_000_000  # a slice of drawing, in which Python hears of nothing, takes no longer than this
DRIFTS = np.arange(-100, 101, 10) * 1e-6  # two clocks of quartz drift by no more against each other
WHOLE_MS_NS = 1_000_000
ROUNDING_NS = 2_000  # deltas are handed along in seconds that were rounded to microseconds


class MidiStamps:
    """Follows one port; from one thread only."""

    def __init__(self) -> None:
        self._driver_ns = 0  # sum of deltas
        self._seen: deque[tuple[int, int]] = deque(maxlen=MESSAGES)  # (arrival, arrival minus driver time)
        self._deltas: deque[int] = deque(maxlen=MESSAGES)
        self._last_ns = 0

    @property
    def believed(self) -> bool:
        """Whether the driver's times are used at present."""
        return self._least_ns() is not None

    def stamp(self, arrived_ns: int, delta_s: float, *, as_arrived: bool = False) -> int:
        """Return when a message came, by the host clock in nanoseconds.

        Args:
            arrived_ns: when Python heard of it; in order.
            delta_s: the driver's seconds since the message before; what the first says is not used.
            as_arrived: let the arrival stand, which costs next to nothing.
        """
        delta_ns = round(delta_s * 1e9) if self._seen else 0
        self._driver_ns += delta_ns
        self._deltas.append(delta_ns)
        self._seen.append((arrived_ns, arrived_ns - self._driver_ns))
        stamp_ns = arrived_ns
        least_ns = None if as_arrived else self._least_ns()
        if least_ns is not None and arrived_ns - (self._driver_ns + least_ns) <= FARTHEST_NS:
            stamp_ns = min(arrived_ns, self._driver_ns + least_ns)
        # Messages keep their order, whichever of the two times each was given.
        self._last_ns = max(self._last_ns, stamp_ns)
        return self._last_ns

    def _least_ns(self) -> int | None:
        """Return the least delay to be believed, from the sum of deltas to the host clock."""
        if len(self._seen) < MESSAGES:
            return None
        seen = np.array(self._seen, dtype=np.int64)
        ages, delays = seen[-1, 0] - seen[:, 0], seen[:, 1] - seen[-1, 1]
        level = delays + np.outer(DRIFTS, ages)
        lowest = level.min(axis=1)
        over = level - lowest[:, None]
        step_ns = self._step_ns()
        # Of all drifts the one that leaves the least of our own lateness; a long wait counts as a short one.
        # Under whole milliseconds no drift can be seen, so the largest is allowed for.
        best = len(DRIFTS) - 1 if step_ns else int(np.minimum(over, NEAR_NS).sum(axis=1).argmin())
        near = over[best] <= NEAR_NS + step_ns
        halves = np.count_nonzero(near.reshape(2, -1), axis=1)
        if halves.sum() < LEAST_NEAR or halves.min() < LEAST_NEAR_IN_HALF or not near[-LATE_IN_A_ROW:].any():
            return None
        return int(seen[-1, 1] + round(lowest[best])) + step_ns

    def _step_ns(self) -> int:
        """Return how much the driver's times are rounded down: a millisecond or nothing worth a word."""
        whole = all(_off_whole_ms(delta_ns) <= ROUNDING_NS for delta_ns in self._deltas)
        return WHOLE_MS_NS if whole else 0


def _off_whole_ms(ns: int) -> int:
    return abs(ns - round(ns / WHOLE_MS_NS) * WHOLE_MS_NS)
