"""Notice that something began to sound: rises of loudness in many bands at once, as the sound comes in.

Bands of a twelfth of an octave are compressed, log(1 + magnitude / floor), where the floor is what a band is
like when it is quiet (the 20th percentile of the last two seconds). What counts is the mean over all bands
of what rose within 16 ms: a string that rings on adds nothing, a new one does, in all bands that its
attack reaches. A rise that stands out from its surroundings and is the highest near it is an onset. (The
family of spectral flux: Boeck & Widmer 2013, DAFx; the figures are our own, see tests/benchmarks.)

A soft hammer-on rises no more than noise does, but it is new, :mod:`trainer.hearing.newness`, which noise is
not; and what is new without rising is the same string, sounding otherwise. So a smaller rise is an onset
where it is new. For a touch both are added up.

The time given here is coarse, good to some 10 ms; :mod:`trainer.hearing.attack` finds the true one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.hearing.bands import RATE, Wave, line_frames, octave_bands
from trainer.hearing.newness import AFTER as NEW_FOR
from trainer.hearing.newness import Newness

FRAME = 2048
HOP = 128
LAG = 6  # hops within which a rise is looked for
LOWEST_HZ, HIGHEST_HZ = 150.0, 14_000.0
BANDS_PER_OCTAVE = 12
FLOOR_SHARE = 20.0  # percentile
FLOOR_S = 2.0
DEAF_HOPS = 64  # at the beginning, 0.17 s
FLOOR_EVERY = 32  # hops between two looks at the floor
FLOOR_SAMPLED = 8  # every eighth frame is enough to know it
LEAST_FLOOR = 1e-4  # of a band's magnitude: digital silence has no floor of its own
THRESHOLD = 0.15  # above the mean near by; noise alone reaches 0.13 within a minute
WEAK_THRESHOLD, NEW_THRESHOLD = 0.08, 0.02  # a rise of less counts where so much is new: noise is not
LEAST_RISE = 0.03  # that is looked at for a touch
TOUCH_SHARE = 0.1  # of its rise, that speaks for a touch beside its newness
BEFORE, AFTER = 17, 11  # hops in which an onset is the highest: 45 and 29 ms
CONTACT_RISES = 2.0
MEAN_BEFORE = 38  # hops, 0.1 s
NEW_HOPS = 2  # hops to a frame in which newness is measured
TOUCH_NEAR = 8  # such frames, 43 ms, in which a touch is the newest
# Frames round a rise in which it is new, or not: what was new 45 ms before is another stroke's, and more are
# not known when it is told.
RISE_BEFORE, RISE_AFTER = 3, AFTER // NEW_HOPS - NEW_FOR + 1
AT_ONCE = (TOUCH_NEAR + NEW_FOR - 1) * NEW_HOPS - AFTER  # hops after a touch in which rises are known by then
TOUCH_LATE_S = 0.003  # from a touch to its newest frame
KNOWN_AFTER_S = ((AFTER + LAG / 2 + 1) * HOP + FRAME / 2) / RATE  # of sound that a rise is known by, 0.061


def touch_strength(rise: float, newness: float) -> float:
    """Return how much speaks for a touch: noise may rise as much or be as new, but hardly both at once."""
    return newness + TOUCH_SHARE * rise


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """Something began to sound.

    Attributes:
        time_s: about when, in seconds of the recording.
        rise: how much the bands rose on average, above what is usual near by; natural logarithm.
        newness: how much sounds that did not before, see :mod:`trainer.hearing.newness`.
    """

    time_s: float
    rise: float
    newness: float


class OnsetStream:
    """Finds onsets in sound that comes in pieces; how it is cut makes no difference.

    An onset is known KNOWN_AFTER_S of sound after it began, a touch that does not rise 80 ms.

    Args:
        threshold: rises of less are not told.
        touch_threshold: what has more :func:`touch_strength` is told however little it rises; None without
            touches.
        deaf_hz: frequencies not listened to, such as a click's own.
    """

    def __init__(
        self,
        *,
        threshold: float = THRESHOLD,
        touch_threshold: float | None = None,
        deaf_hz: tuple[float, ...] = (),
    ) -> None:
        self.threshold = threshold
        self._touch_threshold = touch_threshold
        self._newness = Newness(FRAME, deaf_hz)
        self._new = np.zeros(0)
        self._new_first = 1 - NEW_FOR  # frame of the first newness kept
        self._new_looked = DEAF_HOPS // NEW_HOPS  # frames up to which touches have been looked for
        self._bands = octave_bands(
            FRAME,
            bands_per_octave=BANDS_PER_OCTAVE,
            lowest_hz=LOWEST_HZ,
            highest_hz=HIGHEST_HZ,
            deaf_hz=deaf_hz,
        )
        self._rest = np.zeros(FRAME // 2)  # the first frame lies round the first sample
        self._last = np.zeros((0, len(self._bands)))  # the latest LAG frames
        self._quiet: list[Wave] = []  # frames that tell the floor
        self._floor = np.full(len(self._bands), LEAST_FLOOR)
        self._hops = 0
        self._rises = np.zeros(0)
        self._first = 0  # hop of the first rise kept
        self._looked = 0  # hops up to which peaks have been looked for
        self._found, self._found_rise = -BEFORE - 1, 0.0
        self._told: list[int] = []  # hops of the latest onsets

    def push(self, piece: Wave) -> tuple[Onset, ...]:
        """Take in the next piece of sound, mono, from -1 to 1; return the onsets that are certain now."""
        self._rest = np.concatenate([self._rest, piece])
        while True:
            # Up to the next look at the floor, so that the pieces' lengths change nothing.
            count = min(FLOOR_EVERY - self._hops % FLOOR_EVERY, max(0, (len(self._rest) - FRAME) // HOP + 1))
            if count == 0:
                break
            lines = line_frames(self._rest[: FRAME + (count - 1) * HOP], FRAME, HOP)
            new = self._newness.push(lines[-self._hops % NEW_HOPS :: NEW_HOPS])
            self._new = np.concatenate([self._new, new])
            self._take(self._bands.of(lines))
            self._rest = self._rest[count * HOP :]
        onsets = self._peaks()
        # A touch is known some hops before a stroke of the same moment would be.
        return tuple(sorted((*onsets, *self._touches()), key=lambda each: each.time_s))

    def finish(self) -> tuple[Onset, ...]:
        """Return what is left to be told when no more sound comes."""
        return self.push(np.zeros(FRAME + (AFTER + LAG) * HOP))

    def _take(self, frames: Wave) -> None:
        if not self._hops:
            self._floor = self._usual(frames)  # better than none
        all_frames = np.concatenate([self._last, frames])
        now = np.log1p(all_frames / self._floor)
        new = len(frames)
        before = np.concatenate([np.repeat(now[:1], max(0, LAG + new - len(now)), axis=0), now])
        rises = np.maximum(0.0, before[-new:] - before[-new - LAG : -LAG]).mean(axis=1)
        # The beginning of a recording is no onset, and what is usual in it is not known at once.
        rises[: max(0, DEAF_HOPS - self._hops)] = 0.0
        self._rises = np.concatenate([self._rises, rises])
        self._last = all_frames[-LAG:]
        for number in range(new):
            if (self._hops + number) % FLOOR_SAMPLED == 0:
                self._quiet.append(frames[number])
        self._hops += new
        if self._hops % FLOOR_EVERY == 0:
            kept = round(FLOOR_S * RATE / HOP / FLOOR_SAMPLED)
            self._quiet = self._quiet[-kept:]
            self._floor = self._usual(np.array(self._quiet))

    @staticmethod
    def _usual(frames: Wave) -> Wave:
        return np.asarray(np.maximum(np.percentile(frames, FLOOR_SHARE, axis=0), LEAST_FLOOR))

    def _peaks(self) -> tuple[Onset, ...]:
        onsets = []
        rises, first = self._rises, self._first
        weak, touch = min(WEAK_THRESHOLD, self.threshold), self._touch_threshold
        least = weak if touch is None else LEAST_RISE
        for hop in range(max(self._looked, first + 1), first + len(rises) - AFTER):
            at = hop - first
            rise = rises[at]
            near = rises[max(0, at - BEFORE) : at + AFTER + 1]
            # Of equals the first.
            if rise < least or rise < near.max() or (at and rise == rises[at - 1]):
                continue
            # What nobody listened to is not usual: noise would stand out from it.
            usual = rises[max(0, at - MEAN_BEFORE, DEAF_HOPS - first) : at + AFTER + 1].mean()
            # A rise that is far higher than the one just told was the stroke, and that one its contact noise.
            apart = hop - self._found > BEFORE or rise > CONTACT_RISES * self._found_rise
            newness = self._newest(hop // NEW_HOPS, RISE_BEFORE, RISE_AFTER)
            above = float(rise - usual)
            stands_out = above >= (weak if newness >= NEW_THRESHOLD else self.threshold)
            touches = touch is not None and above >= LEAST_RISE and touch_strength(above, newness) >= touch
            if apart and (stands_out or touches):
                self._found, self._found_rise = hop, float(rise)
                self._told.append(hop)
                onsets.append(Onset(time_s=(hop - LAG / 2) * HOP / RATE, rise=above, newness=newness))
        self._looked = max(self._looked, first + len(rises) - AFTER)
        spare = max(0, self._looked - MEAN_BEFORE - first)
        self._rises, self._first = rises[spare:], first + spare
        return tuple(onsets)

    def _touches(self) -> list[Onset]:
        """Return what is new beside what rises: the newest near it, and no part of a stroke."""
        found = []
        threshold = np.inf if self._touch_threshold is None else self._touch_threshold
        stop = self._new_first + len(self._new) - TOUCH_NEAR
        for frame in range(self._new_looked, stop):
            at = frame - self._new_first
            new = float(self._new[at])
            if (
                new < threshold
                or new < self._newest(frame, TOUCH_NEAR, TOUCH_NEAR)
                or new == self._new[at - 1]
            ):
                continue
            hop = frame * NEW_HOPS
            # What rises later than AT_ONCE may not be known yet; a stroke so near would be newer.
            if not any(hop - BEFORE <= each <= hop + AT_ONCE for each in self._told):
                at_s = hop * HOP / RATE - TOUCH_LATE_S
                found.append(Onset(time_s=at_s, rise=0.0, newness=new))
        self._new_looked = max(self._new_looked, stop)
        self._told = [hop for hop in self._told if hop >= NEW_HOPS * self._new_looked - BEFORE]
        spare = min(max(0, self._new_looked - 2 * TOUCH_NEAR - self._new_first), len(self._new))
        self._new, self._new_first = self._new[spare:], self._new_first + spare
        return found

    def _newest(self, frame: int, before: int, after: int) -> float:
        """Return the greatest newness from so many frames before a frame to so many after it."""
        at = frame - self._new_first
        return float(self._new[max(0, at - before) : at + after + 1].max(initial=0.0))
