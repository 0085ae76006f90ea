"""Lay a line through the clicks that a microphone heard: where each beat lies in the recording.

The clicks that are plain tell how far apart the beats lie, and where the count-in is. From there each beat is
looked for as in a drill that runs, see :mod:`.beat_line`, and a line is laid through the longest stretch in
which the recording does not jump. A single click is found to half a millisecond or two; a line through many
of them, to a fraction of that, and it carries the recording's own clock with it. So a stroke that was heard
beside the clicks can be placed against what was heard of them, and no delay of any device comes in; what is
left is the way of the sound, 1 ms for 34 cm that the loudspeaker is farther from the microphone than the
banjo.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trainer.hearing.bands import RATE, Wave
from trainer.hearing.beat_line import NEAR_S, BeatLine
from trainer.hearing.click_times import HeardBeat, fitted
from trainer.hearing.click_trace import ClickTrace, click_trace, reach_s
from trainer.sound.clicks import Click, ClickVoice
from trainer.sound.knocks import BEATS, PLAIN, HeardClick

LEAST_CLICKS = 4
COUNT_IN = (Click.COUNT_IN_FIRST, Click.COUNT_IN)
OFF_BEAT = 0.15  # of a beat: what lies farther from its beat is no click of this line
PROPOSING = 40  # clicks that propose where the beats lie
PAIRED = 12
SURE = 0.85  # so alike no stroke is
GRID_S, ALIKE_S = 0.015, 0.002
MISSING = 0.3  # what a beat without a click counts against a grid
FOLLOWED = 0.1  # of what a beat is off, by which the next is looked for elsewhere
LEAST_PERIOD_S, LONGEST_PERIOD_S = 0.15, 3.5
PERIOD_OFF = 1e-3  # how far the distance of the beats may be off, before a line is laid
SURE_NATS = 8.0  # against times that lie anywhere, see click_times
ON_LINE_S = 0.006
SAME_S = 0.002  # one click, found in two ways


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
    clicks: Sequence[HeardClick],
    sound: Wave,
    voice: ClickVoice,
    *,
    count_in_beats: int,
    seconds_per_beat: float | None = None,
) -> ClickLine | None:
    """Return the line through the clicks of beats; None where too few were heard to tell.

    Args:
        clicks: those found without knowing where to look, in order of time; subdivisions may be among them
            and are passed over.
        sound: the recording, mono at 48 kHz.
        voice: what the clicks are made of.
        count_in_beats: how many beats the count-in has.
        seconds_per_beat: about how far the clicks lie apart; None to find it.
    """
    clicks = [each for each in clicks if each.click is not Click.SUBDIVISION]
    if len(clicks) < LEAST_CLICKS:
        return None
    times = np.array([each.time_s for each in clicks])
    likeness = np.array([each.likeness for each in clicks])
    start_s, period = _count_in(clicks, seconds_per_beat) or _grid(times, likeness, seconds_per_beat)
    numbers, kept = _numbered(times, start_s, period)
    clicks = [clicks[at] for at in kept]
    period = _period(numbers, clicks) or period
    stretches, jumps = _followed(sound, voice, dict(zip(numbers, clicks, strict=True)), period)
    longest = max(stretches, key=len, default=[])
    if len(longest) < LEAST_CLICKS:
        return None
    line = fitted(longest, slope=1.0, usual_slope=1.0, clock=PERIOD_OFF)
    if line.clicks < LEAST_CLICKS or line.nats < SURE_NATS:
        return None
    own = [
        (number, click)
        for number, click in zip(numbers, clicks, strict=True)
        if abs(click.time_s - line.at(number * period)) <= ON_LINE_S
        and longest[0].song_s <= number * period <= longest[-1].song_s
    ]
    beat_0 = _beat_0([number for number, _click in own], [click for _number, click in own], count_in_beats)
    return ClickLine(
        beat_0_s=None if beat_0 is None else line.at(beat_0 * period),
        at_s=float(line.at(longest[0].song_s)),
        seconds_per_beat=line.slope * period,
        spread_s=line.spread_s,
        clicks=line.clicks,
        jumps=tuple(jumps),
    )


def _followed(
    sound: Wave, voice: ClickVoice, found: dict[float, HeardClick], period: float
) -> tuple[list[list[HeardBeat]], list[Jump]]:
    """Return the clicks of each stretch without a jump, and the jumps; a beat is a period of the song.

    Args:
        found: clicks by the number of their beat.
    """
    end_s, reach = len(sound) / RATE, reach_s(period)
    stretches: list[list[HeardBeat]] = []
    jumps: list[Jump] = []
    number, line = -np.inf, BeatLine(PERIOD_OFF)
    while True:
        if not line.clicks:  # at first, or where the clicks have ended
            later = [each for each in sorted(found) if each > number]
            number = next((each for each in later if found[each].likeness >= PLAIN), np.inf)
            if number not in found:
                return stretches, jumps
            at_s, line = found[number].time_s, BeatLine(PERIOD_OFF)
            heard = _plainest(sound, voice, at_s, NEAR_S).found(at_s, SAME_S)
            line.begin(HeardBeat(song_s=number * period, recorded_s=heard.at_s, told=heard.told))
            stretches.append(list(line.clicks))
            continue
        number += 1
        place_s = line.recorded_s(number * period)
        if place_s + reach > end_s:
            return stretches, jumps
        last_s = {each.song_s: each.recorded_s for each in stretches[-1]}
        known = len(line.jumps)
        line.take(number * period, _plainest(sound, voice, place_s, reach))
        if len(line.jumps) > known:
            stretches[-1] = [each for each in stretches[-1] if each.song_s <= line.jumps[-1][0]]
            first = line.clicks[0]
            jumps.append(
                Jump(
                    from_s=last_s[stretches[-1][-1].song_s],
                    to_s=first.recorded_s,
                    size_s=line.recorded_s(number * period) - place_s,
                )
            )
            stretches.append(list(line.clicks))
        elif line.clicks and line.clicks[-1].song_s == number * period:
            stretches[-1].append(line.clicks[-1])


def _plainest(sound: Wave, voice: ClickVoice, place_s: float, reach: float) -> ClickTrace:
    """Return what speaks for the click that is due, of whichever kind it is: for which most speaks."""
    traces = [click_trace(sound, 0.0, place_s, reach, kind, voice) for kind in BEATS]
    return max(traces, key=lambda each: each.found(place_s, NEAR_S).told)


def _period(numbers: Wave, clicks: Sequence[HeardClick]) -> float | None:
    """Return how far the beats lie apart: the median over all pairs of plain clicks; None without a pair.

    That is the slope of Theil and Sen (Sen 1968, from memory), which a quarter of strays does not move.
    """
    plain = np.array([each.likeness >= PLAIN for each in clicks])
    beats, times = numbers[plain], np.array([each.time_s for each in clicks])[plain]
    slopes = [
        (times[later] - times[first]) / (beats[later] - beats[first])
        for first in range(len(times))
        for later in range(first + 1, min(first + PAIRED, len(times)))
    ]
    return float(np.median(slopes)) if slopes else None


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
            on = np.abs(times - start - number * each) <= np.minimum(GRID_S, OFF_BEAT * each)
            beats = (last - first) / each + 1
            score = float(likeness[on].sum() - MISSING * max(0.0, beats - len(np.unique(number[on]))))
            if score > best[0] + 1e-9:
                best = (score, float(start), each)
    return best[1], best[2]


def _count_in(clicks: Sequence[HeardClick], period: float | None) -> tuple[float, float] | None:
    """Return the first click of a count-in, over which nobody plays yet, and how far the next one lies.

    Which of a count-in's two kinds each is does not matter where they are alike enough: as tones they differ
    in nothing but loudness.

    Args:
        period: about how far they lie apart; None where it is not known.
    """
    for first, second in pairwise(clicks):
        told = (first.click, second.click) == COUNT_IN
        likeness = min(first.likeness, second.likeness)
        if {first.click, second.click} <= set(COUNT_IN) and likeness >= (PLAIN if told else SURE):
            step = second.time_s - first.time_s
            if period is not None and abs(step - period) > GRID_S:
                return None
            return (first.time_s, period or step) if LEAST_PERIOD_S <= step <= LONGEST_PERIOD_S else None
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


def _beat_0(numbers: Sequence[float], clicks: Sequence[HeardClick], count_in_beats: int) -> float | None:
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
