"""Split unsteadiness into a timekeeper's and a hand's share, where the taps allow it.

Without a click: Wing & Kristofferson 1973 (Percept. Psychophys. 14:5-12). An interval is
I[j] = C[j] + M[j+1] - M[j], with C the timekeeper's interval and M the motor delay, independent of
each other. So var(I) = sd_C**2 + 2*sd_M**2, the lag-1 autocovariance is -sd_M**2, and the lag-1
autocorrelation lies in [-0.5, 0]. By moments: sd_M**2 = -g(1), sd_C**2 = g(0) + 2*g(1).

With a click: linear phase correction (Vorberg & Wing 1996; Vorberg & Schulze 2002, J. Math. Psychol.
46:56-87; formulas from memory, re-derived). A[n+1] = (1-alpha)*A[n] + T[n] - C + M[n+1] - M[n], so with
g the autocovariances of the asynchronies A: alpha = 1 - g(2)/g(1), sd_M**2 = (1-alpha)*g(0) - g(1),
sd_T**2 = alpha*(2-alpha)*g(0) - 2*alpha*sd_M**2. Used on taps with a click, the first method takes
correction for motor noise; so it is for stretches without a click only.

Many takes cannot be split; that is an answer, :class:`CannotSplit`, and no number is bent to fit. Even
when the model holds, 17 % of stretches of 30 intervals come out with an impossible correlation.
"""

from __future__ import annotations

import enum
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.judging.breakdown import centred, indices_after_skip, timed_outcomes
from trainer.judging.take import Judgement, Outcome, Verdict
from trainer.music.strokes import Kind

LEAST_INTERVALS = 30
LEAST_ASYNCHRONIES = 60
CLEAR_CORRELATION = 2.0  # standard errors 1/sqrt(n) of a correlation: below, it may be none


class Obstacle(enum.Enum):
    """Why unsteadiness cannot be split."""

    TOO_FEW = "too few taps"
    CORRELATION = "the model does not fit: neighbouring intervals hang together in a way it cannot have"
    UNCLEAR = "too little carries over from stroke to stroke to measure it"


@dataclass(frozen=True, slots=True, kw_only=True)
class CannotSplit:
    """No split, and why; ``n`` is how many intervals or taps there were, ``lag1`` None with too few."""

    obstacle: Obstacle
    n: int
    lag1: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoLevels:
    """Standard deviations in seconds of timekeeper and hand.

    Attributes:
        clock_sd_s: of the timekeeper, for an interval of one slot.
        motor_sd_s: of the hand's delay.
        n: intervals or asynchronies used.
        lag1: their lag-1 autocorrelation.
        correction: share of the last asynchrony made good by the next slot; None without a click.
    """

    clock_sd_s: float
    motor_sd_s: float
    n: int
    lag1: float
    correction: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Intervals between successive taps without a break.

    Attributes:
        intervals_s: less their expected value.
        slots: how many slots each spans; the timekeeper's variance is taken to add up slot by slot, as
            the hand passes every slot (ours; with one slot throughout it is the published model).
    """

    intervals_s: tuple[float, ...]
    slots: tuple[int, ...]


def split_intervals(intervals_s: Sequence[float]) -> TwoLevels | CannotSplit:
    """Split intervals of equal nominal length, tapped without a click, by Wing & Kristofferson."""
    n = len(intervals_s)
    mean = math.fsum(intervals_s) / n if n else 0.0
    return split_runs([Run(intervals_s=tuple(i - mean for i in intervals_s), slots=(1,) * n)])


def split_runs(runs: Sequence[Run], *, fitted: int = 1) -> TwoLevels | CannotSplit:
    """Split several runs together, tapped without a click, by Wing & Kristofferson.

    Args:
        fitted: how many means were taken off the intervals; both moments shrink by their share.
    """
    n = sum(len(run.intervals_s) for run in runs)
    if n - fitted < LEAST_INTERVALS - 1:
        return CannotSplit(obstacle=Obstacle.TOO_FEW, n=n)
    pairs = [pair for run in runs for pair in itertools.pairwise(run.intervals_s)]
    g0 = math.fsum(i * i for run in runs for i in run.intervals_s) / (n - fitted)
    g1 = math.fsum(a * b for a, b in pairs) / len(pairs) * n / (n - fitted) if pairs else 0.0
    lag1 = g1 / g0 if g0 > 0 else 0.0
    if g0 <= 0 or not -0.5 <= lag1 <= 0:
        return CannotSplit(obstacle=Obstacle.CORRELATION, n=n, lag1=lag1)
    slots = sum(sum(run.slots) for run in runs) / n
    return TwoLevels(
        clock_sd_s=math.sqrt(max(0.0, g0 + 2 * g1) / slots), motor_sd_s=math.sqrt(-g1), n=n, lag1=lag1
    )


EVERYTHING = ((-math.inf, math.inf),)  # for a take whose click was off from the first stroke on


def split_click_off(judgement: Judgement, spans_s: Sequence[tuple[float, float]]) -> TwoLevels | CannotSplit:
    """Split what was played in stretches without a click.

    Args:
        spans_s: start and end of each stretch, in seconds from beat 0; only intervals whose two strokes
            both lie inside one stretch count.
    """
    stretches = [_chains(judgement, start, end) for start, end in spans_s]
    tempo = [_excess_per_slot_s(list(itertools.chain.from_iterable(chains))) for chains in stretches]
    runs = [
        [(pair, _excess_s(pair) - _slots(pair) * off_s) for pair in chain]
        for chains, off_s in zip(stretches, tempo, strict=True)
        for chain in chains
    ]
    # A kind that leans makes the interval before it short and the one after it long, every time, and that
    # is no noise: intervals between the same slots of the bars are moved to their mean.
    likes: dict[tuple[int, int, int, int], list[float]] = {}
    for pair, excess_s in itertools.chain.from_iterable(runs):
        likes.setdefault(_like(pair), []).append(excess_s)
    means = {like: math.fsum(values) / len(values) for like, values in likes.items()}
    return split_runs(
        [
            Run(
                intervals_s=tuple(excess_s - means[_like(pair)] for pair, excess_s in run),
                slots=tuple(_slots(pair) for pair, _ in run),
            )
            for run in runs
        ],
        fitted=len(stretches) + max(0, len(likes) - 1),
    )


def split_with_click(judgement: Judgement) -> TwoLevels | CannotSplit:
    """Split what was played with a click, by linear phase correction slot by slot.

    Kinds of stroke are moved to their own medians first. Autocovariances are taken over strokes that
    are one and two slots apart, so rests and misses leave holes but do no harm. Jitter of single strokes
    that the hand does not carry on counts as timekeeper and motor noise in unknown shares.
    """
    timed = timed_outcomes(judgement)
    if len(timed) < LEAST_ASYNCHRONIES:
        return CannotSplit(obstacle=Obstacle.TOO_FEW, n=len(timed))
    values = centred(timed, indices_after_skip(judgement.outcomes))
    mean = math.fsum(values) / len(values)
    at = {o.target.index: v - mean for o, v in zip(timed, values, strict=True)}
    return from_autocovariances(
        *(_autocovariance(at, lag) for lag in (0, 1, 2)), n=sum(1 for i in at if i + 1 in at)
    )


def split_asynchronies(asynchronies_s: Sequence[float]) -> TwoLevels | CannotSplit:
    """Split asynchronies of successive slots, none missing, tapped with a click."""
    n = len(asynchronies_s)
    if n < LEAST_ASYNCHRONIES:
        return CannotSplit(obstacle=Obstacle.TOO_FEW, n=n)
    mean = math.fsum(asynchronies_s) / n
    at = {i: a - mean for i, a in enumerate(asynchronies_s)}
    return from_autocovariances(*(_autocovariance(at, lag) for lag in (0, 1, 2)), n=n)


def from_autocovariances(g0: float, g1: float, g2: float, *, n: int) -> TwoLevels | CannotSplit:
    """Return correction and both standard deviations from autocovariances of asynchronies, seconds squared.

    Args:
        n: how many pairs of neighbours they come from; with few, a small correlation may be none.
    """
    lag1 = g1 / g0 if g0 > 0 else 0.0
    if n < LEAST_INTERVALS:
        return CannotSplit(obstacle=Obstacle.TOO_FEW, n=n)
    if abs(lag1) < CLEAR_CORRELATION / math.sqrt(n):
        return CannotSplit(obstacle=Obstacle.UNCLEAR, n=n, lag1=lag1)
    alpha = 1 - g2 / g1
    motor = (1 - alpha) * g0 - g1
    clock = alpha * (2 - alpha) * g0 - 2 * alpha * motor
    if not 0 < alpha < 2 or motor < 0 or clock < 0:
        return CannotSplit(obstacle=Obstacle.CORRELATION, n=n, lag1=lag1)
    return TwoLevels(
        clock_sd_s=math.sqrt(clock), motor_sd_s=math.sqrt(motor), n=n, lag1=lag1, correction=alpha
    )


def _autocovariance(at: dict[int, float], lag: int) -> float:
    products = [v * at[i + lag] for i, v in at.items() if i + lag in at]
    return math.fsum(products) / len(products) if products else 0.0


_Pair = tuple[Outcome, Outcome]


def _chains(judgement: Judgement, start_s: float, end_s: float) -> list[list[_Pair]]:
    """Return the pairs of successive taps of one stretch; a missed stroke breaks the chain."""
    chains: list[list[_Pair]] = [[]]
    sounding = [
        o
        for o in judgement.outcomes
        if start_s <= o.target.song_s <= end_s
        and o.target.stroke.kind is not Kind.SKIP
        and o.verdict is not Verdict.NOT_JUDGED
    ]
    for one, other in itertools.pairwise(sounding):
        if one.tap is not None and other.tap is not None:
            chains[-1].append((one, other))
        elif chains[-1]:
            chains.append([])
    return [chain for chain in chains if chain]


def _excess_per_slot_s(pairs: Sequence[_Pair]) -> float:
    """Return by how much a slot of one stretch was played too long: another tempo is no noise."""
    slots = sum(_slots(pair) for pair in pairs)
    return math.fsum(_excess_s(pair) for pair in pairs) / slots if slots else 0.0


def _slots(pair: _Pair) -> int:
    return pair[1].target.index - pair[0].target.index


def _excess_s(pair: _Pair) -> float:
    return (pair[1].placement_s or 0.0) - (pair[0].placement_s or 0.0)


def _like(pair: _Pair) -> tuple[int, int, int, int]:
    one, other = pair[0].target, pair[1].target
    return one.bar, one.slot, other.bar, other.slot
