"""Tell from several clicks together whether the sound has jumped, and by how much.

Each click says of every place how much speaks for it there, see :mod:`.click_trace`. Where sound was lost,
all clicks from then on lie off by the same; a stroke that is taken for a click lies off by another amount
each time. So what the latest clicks say is summed, step by step, and the best step held against none at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.hearing.bands import Wave
from trainer.hearing.click_trace import ClickTrace

JUMP_S = 0.006  # smaller ones are left to the line, which goes with them
STAYS_S = 0.002  # an echo moves the best match of a click that has not jumped by no more
STEP_S = 0.0002
JUMPED_CLICKS = 6  # at most that a jump is told by
# How much more must speak for a step than for none: found on the material of
# tests/benchmarks/lost_sound_study, on other seeds, and two other plucked instruments besides.
MORE, LONE_MORE = 0.50, 0.75  # LONE_MORE by one click alone
MOST = 0.55  # of several clicks each counts so much: a stroke may be as like a click as it will
# For a large step more: there are many, strokes lie there too, and what rings there is not known.
FAR_S, FAR_MORE = 0.030, 0.45
# An echo that is usually told about as much as the click before it is taken out.
ECHOES_S: Wave = np.arange(0.005, 0.060, 0.001)
ECHO_SHARE = 0.9
LEAST_NEW = 0.2  # of what is usual, that the latest click is
LEAST_OWN = 0.1  # where clicks are told by less, there is nothing to hold an echo against
PLAIN = 0.3  # a click for which so much more speaks where it was is where it was


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldJump:
    """A jump: how many of the latest clicks lie beyond it, how many before it are not plain, and its size."""

    clicks: int
    doubtful: int
    size_s: float


def sizes_within(reach_s: float) -> Wave:
    """Return the steps that are asked for, none among them."""
    count = round(reach_s / STEP_S)
    return np.asarray(STEP_S * np.arange(-count, count + 1))


def told_jump(told: Wave, sizes_s: Wave) -> ToldJump | None:
    """Return the jump that the latest clicks tell of; None without one.

    Args:
        told: what speaks for each click, in order, if it lies off by each size; shape (clicks, sizes).
        sizes_s: later than expected is positive.
    """
    stays, moves = np.abs(sizes_s) <= STAYS_S, np.abs(sizes_s) > JUMP_S
    stay = told[:, stays].max(axis=1)
    more = told - stay[:, None]
    sums = np.cumsum(np.minimum(more, MOST)[::-1], axis=0)
    sums[0] = more[-1] - LONE_MORE + MORE
    speaks = np.where(moves, sums - FAR_MORE * (np.abs(sizes_s) > FAR_S), -np.inf)
    gains = speaks.max(axis=1)
    clicks = 1 + int(np.argmax(gains))
    if float(gains[clicks - 1]) < MORE:
        return None
    at = int(np.argmax(speaks[clicks - 1]))
    before = told[: len(told) - clicks]
    plain = np.flatnonzero(stay[: len(before)] - before[:, at] > PLAIN)
    doubtful = len(before) - 1 - int(plain[-1]) if len(plain) else len(before)
    return ToldJump(clicks=clicks, doubtful=doubtful, size_s=float(sizes_s[at]))


class Echoes:
    """Where the echoes of one kind of click are told as much as the click, learnt from those on the line.

    In a lively room a click may be told by its echo rather than by itself; that is no jump.
    """

    def __init__(self) -> None:
        self._usual, self._own, self._count = np.zeros(len(ECHOES_S)), 0.0, 0

    def learn(self, trace: ClickTrace, place_s: float) -> None:
        """Take in a click that began at a place."""
        self._count += 1
        new = max(LEAST_NEW, 1 / self._count)
        self._own += new * (float(trace.at(np.array([place_s]))[0]) - self._own)
        self._usual += new * (trace.at(place_s + ECHOES_S) - self._usual)

    def told(self, trace: ClickTrace, places_s: Wave) -> Wave:
        """Return what speaks for a click at each place, besides the echoes of one before."""
        told, own = trace.at(places_s), max(self._own, LEAST_OWN)
        strong = np.flatnonzero(self._usual > ECHO_SHARE * own)
        if not len(strong):
            return told
        shares = self._usual[strong] / own
        echo = (shares[:, None] * trace.at(places_s - ECHOES_S[strong, None])).max(axis=0)
        return np.asarray(np.maximum(0.0, told - echo))
