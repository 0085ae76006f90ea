"""Lay a line through the clicks that a microphone heard: where each beat lies in the recording.

A single click is found to half a millisecond or two; a line through many of them, to a fraction of that, and
it carries the recording's own clock with it. So a stroke that was heard beside the clicks can be placed
against what was heard of them, and no delay of any device comes in; what is left is the way of the sound,
1 ms for 34 cm that the loudspeaker is farther from the microphone than the banjo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trainer.hearing.bands import Wave
from trainer.sound.clicks import Click
from trainer.sound.knocks import PLAIN, HeardClick

LEAST_CLICKS = 4
COUNT_IN = (Click.COUNT_IN_FIRST, Click.COUNT_IN)
OFF_BEAT = 0.15  # of a beat: what lies farther from its beat is no click of this line
PROPOSING = 40  # clicks that propose where the beats lie
SURE = 0.85  # so alike no stroke is
NEAR_S, ALIKE_S = 0.015, 0.002
MISSING = 0.3  # what a beat without a click counts against a grid
FOLLOWED = 0.1  # of what a beat is off, by which the next is looked for elsewhere
LEAST_PERIOD_S, LONGEST_PERIOD_S = 0.15, 3.5
OUTLIER_MADS, LEAST_OUTLIER_S = 4.0, 0.0015
LARGEST_SPREAD_S = 0.008  # clicks that lie worse are none
JUMP_S = 0.006  # a jump of the sound is seen when two clicks in a row lie off by this on one side
LINE_CLICKS = 24  # before a click, that tell where it should be


@dataclass(frozen=True, slots=True, kw_only=True)
class Jump:
    """A place where the recording lost sound, or gained some.

    Attributes:
        from_s, to_s: it lies between these seconds of the recording.
        size_s: how much later than before the clicks come; negative where sound was lost.
    """

    from_s: float
    to_s: float
    size_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickLine:
    """Where the beats lie in a recording.

    Attributes:
        beat_0_s: second of the recording of beat 0; None where no count-in was heard that tells it.
        at_s: second of the recording of the first click, by the line.
        seconds_per_beat: by the recording's own clock.
        spread_s: standard deviation of single clicks about the line.
        clicks: how many clicks the line is laid through.
        jumps: where the sound has jumped, in order; the line is that of the longest stretch between them.
    """

    beat_0_s: float | None
    at_s: float
    seconds_per_beat: float
    spread_s: float
    clicks: int
    jumps: tuple[Jump, ...] = ()

    @property
    def bpm(self) -> float:
        """Beats a minute by the recording's own clock."""
        return 60 / self.seconds_per_beat

    @property
    def uncertainty_s(self) -> float:
        """Twice the standard error of the middle of the line."""
        return 2 * self.spread_s / float(np.sqrt(self.clicks))


def click_line(
    clicks: Sequence[HeardClick], *, count_in_beats: int, seconds_per_beat: float | None = None
) -> ClickLine | None:
    """Return the line through the clicks of beats; None where too few were heard to tell.

    Args:
        clicks: in order of time; subdivisions may be among them and are passed over.
        count_in_beats: how many beats the count-in has.
        seconds_per_beat: about how far the clicks lie apart; None to find it.
    """
    clicks = [each for each in clicks if each.click is not Click.SUBDIVISION]
    if len(clicks) < LEAST_CLICKS:
        return None
    times = np.array([each.time_s for each in clicks])
    known = seconds_per_beat or _count_in_step(clicks)
    start_s, period = _grid(times, np.array([each.likeness for each in clicks]), known)
    numbers, kept = _numbered(times, start_s, period)
    if len(kept) < LEAST_CLICKS:
        return None
    times, clicks = times[kept], [clicks[at] for at in kept]
    likeness = np.array([each.likeness for each in clicks])
    jumps, stretches = _jumps(times, numbers, likeness, period)
    start, stop = max(stretches, key=lambda each: each[1] - each[0])
    if stop - start < LEAST_CLICKS:
        return None
    slope, first_s, spread = _line(times[start:stop], numbers[start:stop], likeness[start:stop])
    if spread > LARGEST_SPREAD_S:
        return None
    beat_0 = _beat_0(numbers[start:stop], clicks[start:stop], count_in_beats)
    return ClickLine(
        beat_0_s=None if beat_0 is None else first_s + slope * beat_0,
        at_s=first_s + slope * float(numbers[start]),
        seconds_per_beat=slope,
        spread_s=spread,
        clicks=stop - start,
        jumps=jumps,
    )


def _grid(times: Wave, likeness: Wave, period: float | None) -> tuple[float, float]:
    """Return a click that lies on the beat and the distance of beats that most clicks agree with.

    Every two clicks near each other, or every click where the distance is known, propose a grid; what lies on
    it counts for it and what it has no click for against it, so that half the distance does not win.
    """
    times, likeness = times[:PROPOSING], likeness[:PROPOSING]
    first, last = float(times[0]), float(times[-1])
    periods = [period] if period else _steps(times)
    best = (-np.inf, first, periods[0] if periods else 1.0)
    for each in periods:
        for start in times:
            number = np.round((times - start) / each)
            on = np.abs(times - start - number * each) <= np.minimum(NEAR_S, OFF_BEAT * each)
            beats = (last - first) / each + 1
            score = float(likeness[on].sum() - MISSING * max(0.0, beats - len(np.unique(number[on]))))
            if score > best[0] + 1e-9:
                best = (score, float(start), each)
    return best[1], best[2]


def _count_in_step(clicks: Sequence[HeardClick]) -> float | None:
    """Return the distance of the first two clicks of a count-in, over which nobody plays yet.

    Which of a count-in's two kinds each is does not matter where they are alike enough: as tones they differ
    in nothing but loudness.
    """
    for first, second in pairwise(clicks):
        told = (first.click, second.click) == COUNT_IN
        likeness = min(first.likeness, second.likeness)
        if {first.click, second.click} <= set(COUNT_IN) and likeness >= (PLAIN if told else SURE):
            step = second.time_s - first.time_s
            return step if LEAST_PERIOD_S <= step <= LONGEST_PERIOD_S else None
    return None


def _steps(times: Wave) -> list[float]:
    """Return the distances of near clicks that could be one beat; those alike are one, their median."""
    steps = np.sort([b - a for at, a in enumerate(times) for b in times[at + 1 : at + 6]])
    steps = steps[(steps >= LEAST_PERIOD_S) & (steps <= LONGEST_PERIOD_S)]
    groups = np.split(steps, np.flatnonzero(np.diff(steps) > ALIKE_S) + 1)
    return [float(np.median(group)) for group in groups if len(group)]


def _numbered(times: Wave, start: float, period: float) -> tuple[Wave, NDArray[np.intp]]:
    """Return a beat number for each click that lies near a beat, and which clicks those are.

    Each beat is looked for a period after the last one found, so a grid that is a little off, or a
    recording that has jumped, is followed.
    """
    begin = int(np.argmin(np.abs(times - start)))
    numbers, kept = [0.0], [begin]
    for way in (1, -1):
        at_s, number, step = float(times[begin]), 0.0, period
        order = range(begin + 1, len(times)) if way > 0 else range(begin - 1, -1, -1)
        for at in order:
            beats = way * (times[at] - at_s) / step
            if round(beats) >= 1 and abs(beats - round(beats)) <= OFF_BEAT:
                number += way * round(beats)
                step += FOLLOWED * (way * (times[at] - at_s) / round(beats) - step)
                at_s = float(times[at])
                numbers.append(number)
                kept.append(at)
    order_of = np.argsort(kept)
    return np.array(numbers)[order_of], np.array(kept, dtype=np.intp)[order_of]


def _line(times: Wave, numbers: Wave, likeness: Wave) -> tuple[float, float, float]:
    """Return slope, value at number 0 and spread of the least-squares line; outliers are dropped.

    The likelier half of the clicks comes first: where an echo takes most of one tone away, half of all may
    be told milliseconds early, and would pull a line through all of them along.
    """
    chosen = likeness >= np.median(likeness)
    if chosen.sum() < LEAST_CLICKS:
        chosen[:] = True
    slope = first = spread = 0.0
    for _round in range(3):
        n, t = numbers[chosen], times[chosen]
        middle = n - n.mean()
        slope = float((middle @ (t - t.mean())) / max(float(middle @ middle), 1e-12))
        first = float(t.mean() - slope * n.mean())
        off = times - (first + slope * numbers)
        spread = float(off[chosen].std())
        limit = max(OUTLIER_MADS * float(np.median(np.abs(off[chosen]))), LEAST_OUTLIER_S)
        chosen = np.abs(off) <= limit
        if chosen.sum() < LEAST_CLICKS:
            break
    # Where most lie off it there is no line.
    return slope, first, spread if 2 * chosen.sum() >= len(times) else float(off.std())


def _jumps(
    times: Wave, numbers: Wave, likeness: Wave, period: float
) -> tuple[tuple[Jump, ...], list[tuple[int, int]]]:
    """Return the jumps, and from which to which click each stretch between them reaches."""
    jumps, start, stretches, at = [], 0, [], LEAST_CLICKS
    while at < len(times) - 1:
        low = max(start, at - LINE_CLICKS)
        if at - low >= LEAST_CLICKS:
            slope, first, _spread = _line(times[low:at], numbers[low:at], likeness[low:at])
            if abs(slope / period - 1) > OFF_BEAT:
                slope, first = period, float(np.median(times[low:at] - period * numbers[low:at]))
            off = times[at : at + 2] - (first + slope * numbers[at : at + 2])
            if np.all(off > JUMP_S) or np.all(off < -JUMP_S):
                jumps.append(
                    Jump(from_s=float(times[at - 1]), to_s=float(times[at]), size_s=float(off.mean()))
                )
                stretches.append((start, at))
                start = at
        at += 1
    return tuple(jumps), [*stretches, (start, len(times))]


def _beat_0(numbers: Wave, clicks: Sequence[HeardClick], count_in_beats: int) -> float | None:
    """Return the number of beat 0: the click after the run of a count-in's clicks.

    Nothing is played over a count-in, so its clicks are plain; under a stroke one kind may be taken for
    another. A recording may begin in the middle of the count-in. Where the first beat itself is not plain,
    the whole count-in is taken to have been heard.
    """
    run: list[float] = []
    for number, click in zip(numbers, clicks, strict=True):
        counts = click.click in COUNT_IN and click.likeness >= PLAIN
        if not run and not counts:
            return None
        if not counts:
            plain = click.likeness >= PLAIN and number == run[-1] + 1
            return float(number if plain else run[0] + count_in_beats)
        run.append(float(number))
    return None
