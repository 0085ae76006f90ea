"""Hear strokes: their moment, loudness and colour, from sound that comes in pieces.

The same for a recording and for a microphone: how the sound is cut makes no difference to what is heard. A
stroke is known about 75 ms of sound after it began, a soft one after 100; nothing of the sound is kept beyond
a second.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.hearing import attack, strings
from trainer.hearing.bands import RATE, Wave
from trainer.hearing.onsets import BEFORE, HOP, KNOWN_AFTER_S, THRESHOLD, Onset, OnsetStream, touch_strength
from trainer.hearing.strings import colour

KEPT_S = 1.0
# An attack within the known limits of tests/benchmarks/hearing_study: 95 % within 3 ms, those of brushes
# and of soft strokes within 6.
CLEAR_RISE = 0.25
UNCERTAINTY_S, SOFT_UNCERTAINTY_S = 0.003, 0.006
# What the way of looking adds to every attack; found on plucks whose main attack is known.
ATTACK_BIAS_S = -0.0008
LEVEL_S = 0.040
LEAST_DB = -120.0
NEEDED_AFTER_S = 0.070
SAME_STROKE_S = BEFORE * HOP / RATE
# What is soft may be contact noise, or new by a stroke so long after it; until then that is not known.
SAME_SOFT_S = 0.038
NEEDED_AFTER_SOFT_S = SAME_SOFT_S + KNOWN_AFTER_S


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeardStroke:
    """Something that was heard to begin.

    Attributes:
        time_s: second of the recording at which its main attack was.
        uncertainty_s: the true moment lies within this of it nineteen times in twenty.
        rise, newness: how much it stood out, as :class:`~trainer.hearing.onsets.Onset` has them.
        level_db: peak of the 40 ms after the attack, in decibels below full scale.
        colour: what it added to the sound, see :mod:`trainer.hearing.strings`.
    """

    time_s: float
    uncertainty_s: float
    rise: float
    level_db: float
    colour: Wave
    newness: float = 0.0

    @property
    def touch_strength(self) -> float:
        """How much speaks for a touch, were none but a touch to be heard."""
        return touch_strength(self.rise, self.newness)


class Listener:
    """Hears strokes in sound that comes in pieces, mono at 48 kHz, from -1 to 1.

    Args:
        threshold: rises of less are not told.
        touch_threshold: what has more :func:`~trainer.hearing.onsets.touch_strength` is told however little
            it rises; None without touches.
        deaf_hz: frequencies not listened to.
    """

    def __init__(
        self,
        *,
        threshold: float = THRESHOLD,
        touch_threshold: float | None = None,
        deaf_hz: tuple[float, ...] = (),
    ) -> None:
        self._onsets = OnsetStream(threshold=threshold, touch_threshold=touch_threshold, deaf_hz=deaf_hz)
        self._deaf_hz = deaf_hz
        self._kept = np.zeros(0)
        self._from = 0  # frame of the recording at which what is kept begins
        self._waiting: list[Onset] = []
        self._told_s = -1.0

    @property
    def heard_s(self) -> float:
        """How much sound has come in, in seconds."""
        return (self._from + len(self._kept)) / RATE

    def push(self, piece: Wave) -> tuple[HeardStroke, ...]:
        """Take in the next piece of sound; return the strokes that are known now, in order."""
        strokes: list[HeardStroke] = []
        # In pieces of half a second, so that no more has to be kept however much comes at once.
        for start in range(0, max(len(piece), 1), RATE // 2):
            part = piece[start : start + RATE // 2]
            self._kept = np.concatenate([self._kept, part])
            self._waiting += self._onsets.push(part)
            strokes += self._known(self.heard_s)
            spare = max(0, len(self._kept) - round(KEPT_S * RATE))
            self._kept, self._from = self._kept[spare:], self._from + spare
        return tuple(strokes)

    def finish(self) -> tuple[HeardStroke, ...]:
        """Return what is left to be told when no more sound comes."""
        self._waiting += self._onsets.finish()
        return tuple(self._known(float("inf")))

    def _known(self, heard_s: float) -> list[HeardStroke]:
        strokes = []
        while self._waiting:
            soft = self._waiting[0].rise < THRESHOLD
            if self._waiting[0].time_s + (NEEDED_AFTER_SOFT_S if soft else NEEDED_AFTER_S) > heard_s:
                break
            onset = self._waiting.pop(0)
            follower = self._waiting[0] if self._waiting else None
            near_s = SAME_SOFT_S if soft else SAME_STROKE_S
            if follower is not None and follower.time_s - onset.time_s < near_s:
                continue  # contact noise before the stroke
            stroke = self._stroke(onset)
            if stroke.time_s > self._told_s:
                self._told_s = stroke.time_s
                strokes.append(stroke)
        return strokes

    def _stroke(self, onset: Onset) -> HeardStroke:
        from_s = self._from / RATE
        at_s = attack.attack_s(self._kept, from_s, onset.time_s, self._deaf_hz)
        start = max(0, round((at_s - from_s) * RATE))
        loud = np.abs(self._kept[start : start + round(LEVEL_S * RATE)])
        peak = float(loud.max()) if len(loud) else 0.0
        clear = onset.rise >= CLEAR_RISE
        return HeardStroke(
            time_s=at_s - ATTACK_BIAS_S,
            uncertainty_s=UNCERTAINTY_S if clear else SOFT_UNCERTAINTY_S,
            rise=onset.rise,
            level_db=20 * float(np.log10(peak)) if peak > 10 ** (LEAST_DB / 20) else LEAST_DB,
            colour=colour(self._kept, from_s, at_s),
            newness=onset.newness,
        )


def listen(
    wave: Wave,
    *,
    threshold: float = THRESHOLD,
    touch_threshold: float | None = None,
    deaf_hz: tuple[float, ...] = (),
) -> tuple[HeardStroke, ...]:
    """Return the strokes of a whole recording, mono at 48 kHz; see :class:`Listener`."""
    listener = Listener(threshold=threshold, touch_threshold=touch_threshold, deaf_hz=deaf_hz)
    return (*listener.push(wave), *listener.finish())


assert NEEDED_AFTER_S >= attack.AFTER_S + attack.FRAME / 2 / RATE
assert NEEDED_AFTER_S >= strings.LOOKED_AT_S
