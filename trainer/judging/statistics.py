"""Summarise a take, plainly: where each slot sits on average, how sure that is, how steady it is.

Placements are tap minus target in seconds, late positive. With too few taps a figure is None, never a
number that looks like one.
"""

from __future__ import annotations

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from trainer.judging.take import Judgement, Outcome, Verdict
from trainer.music.strokes import Stroke

LEAST_FOR_MEAN = 1
LEAST_FOR_SPREAD = 3
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where some taps sat and how steadily.

    Attributes:
        n: taps counted.
        mean_s: mean placement in seconds; None without a tap.
        half_interval_s: the mean lies within this of ``mean_s`` with 95 % confidence (Student's t);
            None below three taps.
        spread_s: sample standard deviation in seconds; None below three taps.
    """

    n: int
    mean_s: float | None
    half_interval_s: float | None
    spread_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SlotSummary:
    """One slot of the pattern over all passes.

    Attributes:
        bar, slot: place in the pattern, from 0.
        stroke: what should happen there.
        n: times it was asked.
        placements_s: placements of the taps given to it, in order of passes; ``verdicts`` theirs.
        placement: their summary.
        counts: how often each verdict was given, most frequent first.
        rushed_gaps: how often the gap before it was rushed.
    """

    bar: int
    slot: int
    stroke: Stroke
    n: int
    placements_s: tuple[float, ...]
    verdicts: tuple[Verdict, ...]
    placement: Placement
    counts: tuple[tuple[Verdict, int], ...]
    rushed_gaps: int

    @property
    def mean_s(self) -> float | None:
        """Mean placement in seconds."""
        return self.placement.mean_s

    @property
    def half_interval_s(self) -> float | None:
        """Half-width of the mean's 95 % interval in seconds."""
        return self.placement.half_interval_s

    @property
    def spread_s(self) -> float | None:
        """Standard deviation in seconds."""
        return self.placement.spread_s


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeSummary:
    """A whole take in a few numbers.

    Attributes:
        asked: outcomes that were judged (a left-hand sound that the input can't hear is not).
        clean: in time, or a skip kept silent.
        placement: of all taps given to a stroke that should sound.
        counts: how often each verdict was given, strays among them.
        rushed_gaps: strokes that came early because the gap before them was cut short.
    """

    asked: int
    clean: int
    placement: Placement
    counts: tuple[tuple[Verdict, int], ...]
    rushed_gaps: int

    @property
    def clean_share(self) -> float | None:
        """Clean outcomes as a share of those judged; None when nothing was."""
        return self.clean / self.asked if self.asked else None


def placement_of(placements_s: Sequence[float]) -> Placement:
    """Summarise placements in seconds; see :class:`Placement` for what few taps give.

    >>> placement_of([0.010, 0.020, 0.030]).mean_s
    0.02
    >>> placement_of([0.010, 0.020]).spread_s is None
    True
    """
    n = len(placements_s)
    if n < LEAST_FOR_MEAN:
        return Placement(n=0, mean_s=None, half_interval_s=None, spread_s=None)
    mean = math.fsum(placements_s) / n
    if n < LEAST_FOR_SPREAD:
        return Placement(n=n, mean_s=mean, half_interval_s=None, spread_s=None)
    spread = statistics.stdev(placements_s)
    half = student_quantile((1 + CONFIDENCE) / 2, n - 1) * spread / math.sqrt(n)
    return Placement(n=n, mean_s=mean, half_interval_s=half, spread_s=spread)


def by_slot(judgement: Judgement) -> tuple[SlotSummary, ...]:
    """Return one summary for each slot of the pattern that was asked, in order."""
    groups: dict[tuple[int, int], list[Outcome]] = {}
    for outcome in judgement.outcomes:
        groups.setdefault((outcome.target.bar, outcome.target.slot), []).append(outcome)
    return tuple(_slot(bar, slot, outcomes) for (bar, slot), outcomes in sorted(groups.items()))


def summarise(judgement: Judgement) -> TakeSummary:
    """Return a whole take in a few numbers."""
    counts = Counter(o.verdict for o in judgement.outcomes)
    asked = sum(counts.values()) - counts[Verdict.NOT_JUDGED]
    if judgement.strays:
        counts[Verdict.STRAY] = len(judgement.strays)
    return TakeSummary(
        asked=asked,
        clean=sum(1 for o in judgement.outcomes if o.verdict.is_clean),
        placement=placement_of(timed_placements(judgement.outcomes)),
        counts=tuple(counts.most_common()),
        rushed_gaps=sum(1 for o in judgement.outcomes if o.rushed_gap),
    )


def timed_placements(outcomes: Sequence[Outcome]) -> tuple[float, ...]:
    """Return the placements in seconds of all taps given to strokes that should sound."""
    return tuple(
        o.placement_s for o in outcomes if o.placement_s is not None and o.verdict is not Verdict.TOUCHED
    )


def student_quantile(p: float, degrees: int) -> float:
    """Return the quantile of Student's t distribution, for 0.5 <= p < 1.

    Exact for one and two degrees of freedom; beyond, Newton steps on the distribution function from a
    normal start. The function is the finite sum of Abramowitz & Stegun 26.7.3 and 26.7.4 (from memory;
    the tests compare with scipy).

    Args:
        p: probability below the quantile.
        degrees: degrees of freedom, at least 1.

    >>> round(student_quantile(0.975, 10), 3)  # the tables have 2.228
    2.228
    """
    if degrees == 1:
        return math.tan(math.pi * (p - 0.5))
    if degrees == 2:
        a = 2 * p - 1
        return a * math.sqrt(2 / (1 - a * a))
    if degrees > 200:
        # Fisher's expansion: 1/n**2 is below 1e-4 here, and the sums would grow long.
        z = NormalDist().inv_cdf(p)
        return z + (z**3 + z) / (4 * degrees) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * degrees**2)
    t = NormalDist().inv_cdf(p)
    for _ in range(50):
        step = (student_below(t, degrees) - p) / _student_density(t, degrees)
        t -= step
        if abs(step) < 1e-12:
            break
    return t


def student_below(t: float, degrees: int) -> float:
    """Return the probability of a Student's t below ``t``, for whole degrees of freedom.

    The finite sums of Abramowitz & Stegun 26.7.3 and 26.7.4, so its cost grows with ``degrees``.
    """
    theta = math.atan2(t, math.sqrt(degrees))
    cosine, sine = math.cos(theta), math.sin(theta)
    if degrees % 2:
        term, total = cosine, cosine if degrees > 1 else 0.0
        for k in range(3, degrees - 1, 2):
            term *= (k - 1) / k * cosine * cosine
            total += term
        between = 2 / math.pi * (theta + sine * total)
    else:
        term, total = 1.0, 1.0
        for k in range(2, degrees - 1, 2):
            term *= (k - 1) / k * cosine * cosine
            total += term
        between = sine * total
    return 0.5 + between / 2


def _student_density(t: float, degrees: int) -> float:
    log = math.lgamma((degrees + 1) / 2) - math.lgamma(degrees / 2) - 0.5 * math.log(degrees * math.pi)
    return math.exp(log - (degrees + 1) / 2 * math.log1p(t * t / degrees))


def _slot(bar: int, slot: int, outcomes: Sequence[Outcome]) -> SlotSummary:
    placements = tuple(o.placement_s for o in outcomes if o.placement_s is not None)
    return SlotSummary(
        bar=bar,
        slot=slot,
        stroke=outcomes[0].target.stroke,
        n=len(outcomes),
        placements_s=placements,
        verdicts=tuple(o.verdict for o in outcomes if o.placement_s is not None),
        placement=placement_of(placements),
        counts=tuple(Counter(o.verdict for o in outcomes).most_common()),
        rushed_gaps=sum(1 for o in outcomes if o.rushed_gap),
    )
