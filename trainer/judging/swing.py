"""Measure the swing that was played: how far the up slots lie behind the middle of their pairs.

A ratio r, long to short, puts the up slot at r/(1+r) of its pair (Friberg & Sundstrom 2002). Each up
tap is held against the down taps next to it, so neither a steady lead nor a slow drift looks like
swing. What is measured is placement: a lay-back asked for is taken off, so that the ratio found can be
adopted together with it. The centre is the median of the pairs and its interval that of the order
statistics, which needs no normal spread.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_left
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.judging.breakdown import indices_after_skip, timed_outcomes
from trainer.judging.readings import ReadingKind
from trainer.judging.statistics import CONFIDENCE
from trainer.judging.take import Judgement, Outcome
from trainer.music.layout import Feel
from trainer.music.pattern import Pattern
from trainer.music.strokes import Motion
from trainer.music.timeline import MAX_SWING, STRAIGHT

LEAST_PAIRS = 8
REACH_BEATS = 2  # a down tap further away says little of where the hand is now
ADOPTED_STEP = 100  # ratios are adopted to a hundredth


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingPlayed:
    """The swing ratio of a take.

    Attributes:
        pairs: up taps that could be placed in their pair.
        ratio: long to short; 1 is straight, below 1 the up slots come before the middle.
        low, high: the ratio lies between these with at least 95 % confidence.
    """

    pairs: int
    ratio: float
    low: float
    high: float

    @property
    def is_straight(self) -> bool:
        """Whether a straight grid is among what the taps may mean."""
        return self.low <= 1.0 <= self.high

    def adopted(self) -> Fraction | None:
        """Return the ratio as a target can have it, None when no target can: below 1 or above 4."""
        if self.is_straight:
            return STRAIGHT
        ratio = Fraction(round(self.ratio * ADOPTED_STEP), ADOPTED_STEP)
        return ratio if STRAIGHT <= ratio <= MAX_SWING else None


def adopt(feel: Feel, swing: SwingPlayed) -> Feel | None:
    """Return a feel with the swing that was played, None when no target can have it."""
    ratio = swing.adopted()
    return None if ratio is None else replace(feel, swing=ratio)


def swing_played(judgement: Judgement, pattern: Pattern) -> SwingPlayed | None:
    """Return the swing ratio of a take.

    Up strokes right after a skip are left out as long as enough others are there: a rushed gap is no
    swing.

    A take that was judged under a swing of its own has its up slots there already; that is counted in.

    Returns:
        None with less than eight up taps that have a down tap near them, for slots in threes, which do
        not swing, and when the up taps lie so wide that they leave their pairs.
    """
    if pattern.slots_per_beat == 3:
        return None
    timed = timed_outcomes(judgement)
    downs = [o for o in timed if o.target.motion is Motion.DOWN and not _is_up(o, pattern)]
    after_skip = indices_after_skip(judgement.outcomes)
    ups = [o for o in timed if _is_up(o, pattern)]
    reading = judgement.reading
    if reading is not None and ReadingKind.SWUNG in reading.also:
        return None  # moved by a swing that nobody has named
    under = reading.amount if reading is not None and reading.kind is ReadingKind.SWUNG else None
    fractions = _placed([o for o in ups if o.target.index not in after_skip], downs, pattern, under)
    if len(fractions) < LEAST_PAIRS:
        fractions = _placed(ups, downs, pattern, under)
    if len(fractions) < LEAST_PAIRS:
        return None
    low, middle, high = median_interval(fractions)
    if not 0 < low <= high < 1:
        return None
    return SwingPlayed(pairs=len(fractions), ratio=_ratio(middle), low=_ratio(low), high=_ratio(high))


def median_interval(values: list[float]) -> tuple[float, float, float]:
    """Return a median between the order statistics that enclose it with at least 95 % confidence.

    The k-th smallest and k-th largest, k the largest number with P(Bin(n, 1/2) < k) <= 2.5 %
    (scipy.stats.quantile_test gives the same interval). Needs at least six values.
    """
    ordered = sorted(values)
    n = len(ordered)
    allowed = (1 - CONFIDENCE) / 2 * 2.0**n if n < 1000 else math.inf
    if n < 1000:
        below, k = 0.0, 0
        while below + math.comb(n, k) <= allowed:
            below += math.comb(n, k)
            k += 1
    else:
        k = math.floor(n / 2 - 0.98 * math.sqrt(n))  # half of 1.96 normal spreads
    return ordered[k - 1], statistics.median(ordered), ordered[n - k]


def _placed(ups: list[Outcome], downs: list[Outcome], pattern: Pattern, under: float | None) -> list[float]:
    """Return where each up tap lies in its pair, 0 to 1, seen from the down taps around it.

    Args:
        under: the swing that the take was judged under, long to short; None for the one asked.
    """
    pair_beats = Fraction(2, pattern.slots_per_beat)
    beats = [float(o.target.beat) for o in downs]
    found = []
    for up in ups:
        here = float(up.target.beat)
        at = bisect_left(beats, here)
        near = [o for o, b in zip(downs[max(0, at - 1) : at + 1], beats[max(0, at - 1) : at + 1], strict=True)
                if abs(b - here) <= REACH_BEATS]  # fmt: skip
        if not near:
            continue
        base_s = math.fsum(o.placement_s or 0.0 for o in near) / len(near)
        asked = float(up.target.beat % pair_beats / pair_beats) if under is None else under / (1 + under)
        found.append(asked + ((up.placement_s or 0.0) - base_s) / (2 * up.target.slot_s))
    return found


def _is_up(outcome: Outcome, pattern: Pattern) -> bool:
    return outcome.target.slot % pattern.slots_per_beat % 2 == 1


def _ratio(fraction: float) -> float:
    return fraction / (1 - fraction)
