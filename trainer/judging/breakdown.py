"""Take a judged take apart: by kind, string and bar, after skips, over time, and by loudness.

Placements are tap minus target in seconds, late positive. Beside each mean stand a median and a spread
from the median absolute deviation, which one slip cannot move. What too few taps cannot say is None.
"""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer.judging.chance import Contrast, Slope, batch_means, contrast, slope
from trainer.judging.statistics import LEAST_FOR_SPREAD, Placement, placement_of
from trainer.judging.take import Judgement, Outcome, Verdict
from trainer.music.strokes import Kind

MAD_TO_SD = 1.4826  # of a normal spread: 1 / quantile(3/4); scipy.stats.median_abs_deviation(scale="normal")


@dataclass(frozen=True, slots=True, kw_only=True)
class TapGroup:
    """Where some of the taps sat.

    Attributes:
        placement: mean, its interval, and standard deviation.
        median_s: middle placement; None without a tap.
        robust_spread_s: 1.4826 times the median absolute deviation; None below three taps.
    """

    placement: Placement
    median_s: float | None
    robust_spread_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """The way from the tap before a skip to the tap after it.

    Attributes:
        after_index: ``Target.index`` of the stroke after the skip.
        nominal_s: its length as asked.
        played_s: its length as played.
    """

    after_index: int
    nominal_s: float
    played_s: float

    @property
    def share(self) -> float:
        """Length played as a share of the length asked: below 1 the gap was cut short."""
        return self.played_s / self.nominal_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """All gaps of a take that have a tap at either end.

    Attributes:
        gaps: in order.
        mean_share, half_interval, spread: of their shares, 95 % confidence; None with too few.
        median_share: None without a gap.
    """

    gaps: tuple[Gap, ...]
    mean_share: float | None
    half_interval: float | None
    spread: float | None
    median_share: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """How placement moves while the take goes on, by regression over the means of up to eight stretches.

    Attributes:
        s_per_minute: positive when the player falls more and more behind.
        half_interval_s_per_minute: 95 % confidence.
        moved_s: the same from the first stroke to the last.
        probability: of moving so much, either way, when there is no drift.
    """

    s_per_minute: float
    half_interval_s_per_minute: float
    moved_s: float
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Dynamics:
    """Loudness by velocity, 1 to 127, where the input has it.

    Attributes:
        accents: accented against unaccented strokes of the right hand.
        strikes: strikes against brushes, unaccented ones only.
        Either is None with less than three of one side.
    """

    accents: Contrast | None
    strikes: Contrast | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakdown:
    """A take, taken apart.

    Attributes:
        by_kind: in the order of :class:`Kind`; kinds without a tap are left out.
        by_string: strokes that sound one string alone, by string.
        by_bar: by bar of the pattern, from 0.
        after_skip, elsewhere: the first stroke after a skip, and all others; without a skip
            ``after_skip`` has no taps.
        gaps: see :class:`Gaps`.
        drift: None with too few taps.
        dynamics: None when no tap has a velocity.
    """

    by_kind: tuple[tuple[Kind, TapGroup], ...]
    by_string: tuple[tuple[int, TapGroup], ...]
    by_bar: tuple[tuple[int, TapGroup], ...]
    after_skip: TapGroup
    elsewhere: TapGroup
    gaps: Gaps
    drift: Drift | None
    dynamics: Dynamics | None


def break_down(judgement: Judgement) -> Breakdown:
    """Return a take taken apart."""
    timed = timed_outcomes(judgement)
    after = indices_after_skip(judgement.outcomes)
    kinds = [(k, [o for o in timed if o.target.stroke.kind is k]) for k in Kind]
    strings = {o.target.stroke.strings[0] for o in timed if len(o.target.stroke.strings) == 1}
    return Breakdown(
        by_kind=tuple((k, group(found)) for k, found in kinds if found),
        by_string=tuple(
            (s, group([o for o in timed if o.target.stroke.strings == (s,)])) for s in sorted(strings)
        ),
        by_bar=tuple(
            (bar, group([o for o in timed if o.target.bar == bar]))
            for bar in sorted({o.target.bar for o in timed})
        ),
        after_skip=group([o for o in timed if o.target.index in after]),
        elsewhere=group([o for o in timed if o.target.index not in after]),
        gaps=gaps_around_skips(judgement.outcomes),
        drift=drift_of(timed, after),
        dynamics=dynamics_of(timed),
    )


def timed_outcomes(judgement: Judgement) -> tuple[Outcome, ...]:
    """Return the outcomes of strokes that should sound and have a tap, in order."""
    return tuple(
        o for o in judgement.outcomes if o.placement_s is not None and o.verdict is not Verdict.TOUCHED
    )


def placements_of(outcomes: Sequence[Outcome]) -> list[float]:
    """Return the placements in seconds of outcomes that have one."""
    return [o.placement_s for o in outcomes if o.placement_s is not None]


def group(outcomes: Sequence[Outcome]) -> TapGroup:
    """Return where some taps sat."""
    values = placements_of(outcomes)
    return TapGroup(
        placement=placement_of(values),
        median_s=statistics.median(values) if values else None,
        robust_spread_s=robust_spread(values) if len(values) >= LEAST_FOR_SPREAD else None,
    )


def robust_spread(values: Sequence[float]) -> float:
    """Return 1.4826 times the median absolute deviation from the median; needs at least one value."""
    middle = statistics.median(values)
    return MAD_TO_SD * statistics.median(abs(v - middle) for v in values)


def indices_after_skip(outcomes: Sequence[Outcome]) -> frozenset[int]:
    """Return ``Target.index`` of each stroke that comes first after a skip."""
    return frozenset(
        after.target.index
        for before, after in itertools.pairwise(outcomes)
        if before.target.stroke.kind is Kind.SKIP and after.target.stroke.kind is not Kind.SKIP
    )


def gaps_around_skips(outcomes: Sequence[Outcome]) -> Gaps:
    """Measure each gap from the tap before a skip, or a row of skips, to the tap after it."""
    found = []
    before: Outcome | None = None
    skipped = False
    for o in outcomes:
        if o.target.stroke.kind is Kind.SKIP:
            skipped = True
            continue
        if skipped and before is not None and before.tap is not None and o.tap is not None:
            nominal_s = o.target.song_s - before.target.song_s
            if nominal_s > 0:
                played_s = o.tap.song_s - before.tap.song_s
                found.append(Gap(after_index=o.target.index, nominal_s=nominal_s, played_s=played_s))
        before, skipped = o, False
    shares = placement_of([gap.share for gap in found])
    return Gaps(
        gaps=tuple(found),
        mean_share=shares.mean_s,
        half_interval=shares.half_interval_s,
        spread=shares.spread_s,
        median_share=statistics.median(gap.share for gap in found) if found else None,
    )


def drift_of(timed: Sequence[Outcome], after_skip: frozenset[int]) -> Drift | None:
    """Return the drift of a take, None with less than eight taps.

    Each kind of stroke, and strokes after a skip, are first moved to their own median: where the kinds
    sit is no drift, whichever of them the take happens to end with.
    """
    residuals = centred(timed, after_skip)
    line: Slope | None = slope(batch_means([o.target.song_s for o in timed]), batch_means(residuals))
    if line is None:
        return None
    return Drift(
        s_per_minute=60 * line.steepness,
        half_interval_s_per_minute=60 * line.half_interval,
        moved_s=line.steepness * (timed[-1].target.song_s - timed[0].target.song_s),
        probability=line.probability,
    )


def centred(
    timed: Sequence[Outcome], after_skip: frozenset[int], apart: Mapping[int, object] | None = None
) -> list[float]:
    """Return placements less the median of their kind, strokes after a skip being kinds of their own.

    Args:
        apart: by ``Target.index`` what else sets a stroke apart; strokes with equal values are of one kind.
    """
    others = apart or {}
    keys = [(*_cell(o, after_skip), others.get(o.target.index)) for o in timed]
    cells: dict[tuple[Kind, bool, object], list[float]] = {}
    for key, o in zip(keys, timed, strict=True):
        cells.setdefault(key, []).append(o.placement_s or 0.0)
    middles = {key: statistics.median(values) for key, values in cells.items()}
    return [(o.placement_s or 0.0) - middles[key] for key, o in zip(keys, timed, strict=True)]


def dynamics_of(timed: Sequence[Outcome]) -> Dynamics | None:
    """Compare velocities, None when no tap has one."""
    heard = [
        (o.target.stroke, float(o.tap.velocity))
        for o in timed
        if o.tap is not None and o.tap.velocity is not None
    ]
    if not heard:
        return None
    right = [(s, v) for s, v in heard if s.kind in (Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.DROP_THUMB)]
    return Dynamics(
        accents=_louder([v for s, v in right if s.accented], [v for s, v in right if not s.accented]),
        strikes=_louder(
            [v for s, v in right if s.kind is Kind.STRIKE and not s.accented],
            [v for s, v in right if s.kind is Kind.BRUSH and not s.accented],
        ),
    )


def _louder(one: Sequence[float], other: Sequence[float]) -> Contrast | None:
    if min(len(one), len(other)) < LEAST_FOR_SPREAD:
        return None
    return contrast(one, other)


def _cell(outcome: Outcome, after_skip: frozenset[int]) -> tuple[Kind, bool]:
    return outcome.target.stroke.kind, outcome.target.index in after_skip
