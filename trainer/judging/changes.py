"""Compare the stroke after a chord change with strokes inside a chord, and find the change that costs most.

The left hand moves when the chord changes, and the right hand tends to wait for it. Asked about are the
strokes that come first in the beat of a change; all other strokes are inside a chord. Placements are tap
minus target in seconds, late positive.

A stroke is compared with strokes of its own kind, and one after a skip with others after a skip, so that
a strike that is late everywhere makes no change late. The difference is the mean, over the strokes after a
change, of what each is later than the mean of its like inside a chord; its error adds up as in Welch's test,
which it is when there is one kind only (Welch 1947; Satterthwaite 1946, Biometrics 2:110-114; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer.judging.breakdown import TapGroup, group, indices_after_skip, placements_of, timed_outcomes
from trainer.judging.chance import Contrast, t_two_sided
from trainer.judging.statistics import student_quantile
from trainer.judging.take import Judgement, Outcome
from trainer.music.chart import Beats, Chart
from trainer.music.layout import Target
from trainer.music.strokes import Kind

LEAST_AFTER = 3
LEAST_INSIDE = 3  # of the same kind; with fewer a stroke after a change has nothing to be compared with


@dataclass(frozen=True, slots=True, kw_only=True)
class ChordChange:
    """One change of chord in a chart that goes round.

    Attributes:
        beat: of the chart, from 0; 0 is the change from the last chord to the first.
        before, after: the chords in numbers.
        bar: of the pattern, from 0.
    """

    beat: int
    before: str
    after: str
    bar: int

    @property
    def words(self) -> str:
        """The change as it is spoken of, bars counted from 1."""
        return f"from {self.before} to {self.after} in bar {self.bar + 1}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeCost:
    """What one change costs.

    Attributes:
        change: which one.
        group: where the strokes just after it sat.
        difference: how much later they came than strokes inside a chord; None with too few.
    """

    change: ChordChange
    group: TapGroup
    difference: Contrast | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AroundChanges:
    """A take taken apart by its chord changes.

    Attributes:
        after: the first strokes after a change.
        inside: all others.
        difference: by how much later strokes after a change come than their like inside a chord; None with
            too few of either.
        changes: in the order of the chart; those that were not reached are left out.
    """

    after: TapGroup
    inside: TapGroup
    difference: Contrast | None
    changes: tuple[ChangeCost, ...]

    @property
    def worst(self) -> ChangeCost | None:
        """The change that costs most: the latest of those that can be compared, None when none is late.

        It is the largest of several, so it looks larger than it is; the advice names it only when it
        stands among all that was tested.
        """
        late = [c for c in self.changes if c.difference is not None and c.difference.size > 0]
        return max(late, key=lambda c: c.difference.size if c.difference else 0.0, default=None)


def first_after_changes(targets: Sequence[Target], chart: Chart | None) -> dict[int, ChordChange]:
    """Return, by ``Target.index``, the strokes that come first in the beat of a chord change.

    Args:
        targets: in order, of any passes; rests and skips may be among them, and neither is a stroke here.
        chart: the chords under one pass; None for a pattern without.

    Returns:
        At most one stroke for each change of each pass. The first beat of all comes after no change.
    """
    if chart is None:
        return {}
    changes = _changes(chart)
    found: dict[int, ChordChange] = {}
    taken: set[int] = set()
    for target in targets:
        beat = math.floor(target.beat)
        pair = changes.get(beat % chart.beats)
        if pair is None or beat == 0 or beat in taken or not target.stroke.kind.sounds:
            continue
        taken.add(beat)
        found[target.index] = ChordChange(
            beat=beat % chart.beats, before=pair[0], after=pair[1], bar=target.bar
        )
    return found


def around_changes(judgement: Judgement, chart: Chart | None) -> AroundChanges | None:
    """Return a take taken apart by its changes; None without a chart or where the chord never changes."""
    places = first_after_changes([o.target for o in judgement.outcomes], chart)
    if not places:
        return None
    timed = timed_outcomes(judgement)
    after_skip = indices_after_skip(judgement.outcomes)
    after = [o for o in timed if o.target.index in places]
    inside = [o for o in timed if o.target.index not in places]
    each: dict[ChordChange, list[Outcome]] = {}
    for o in after:
        each.setdefault(places[o.target.index], []).append(o)
    return AroundChanges(
        after=group(after),
        inside=group(inside),
        difference=later_than_alike(after, inside, after_skip),
        changes=tuple(
            ChangeCost(
                change=change, group=group(found), difference=later_than_alike(found, inside, after_skip)
            )
            for change, found in sorted(each.items(), key=lambda item: item[0].beat)
        ),
    )


def later_than_alike(
    after: Sequence[Outcome], inside: Sequence[Outcome], after_skip: frozenset[int]
) -> Contrast | None:
    """Return by how much some strokes come later than strokes of their kind elsewhere.

    With x_i a stroke after a change, m_k, s_k and n_k mean, standard deviation and number of its kind inside
    a chord, and a_k the share of kind k among the strokes after a change,

        size = mean of (x_i - m_k),   error**2 = var(x_i - m_k) / n + sum over k of a_k**2 * s_k**2 / n_k

    with Satterthwaite's degrees of freedom, rounded down. Strokes with less than three of their kind inside
    a chord are left out.

    Returns:
        None with less than three strokes left; ``n_other`` counts those they were compared with.
    """
    alike = _by_kind(inside, after_skip)
    usable = [(_kind_of(o, after_skip), o.placement_s) for o in after if o.placement_s is not None]
    usable = [(kind, x) for kind, x in usable if len(alike.get(kind, ())) >= LEAST_INSIDE]
    n = len(usable)
    if n < LEAST_AFTER:
        return None
    means = {kind: math.fsum(values) / len(values) for kind, values in alike.items()}
    later = [x - means[kind] for kind, x in usable]
    parts = [(_variance(later) / n, n - 1)]
    kinds = {kind for kind, _ in usable}
    for kind in kinds:
        share = sum(1 for k, _ in usable if k == kind) / n
        parts.append((share**2 * _variance(alike[kind]) / len(alike[kind]), len(alike[kind]) - 1))
    size = math.fsum(later) / n
    n_other = sum(len(alike[kind]) for kind in kinds)
    squared = math.fsum(part for part, _ in parts)
    if squared <= 0:
        certain = 1.0 if size == 0 else 0.0
        return Contrast(size=size, half_interval=0.0, probability=certain, n=n, n_other=n_other)
    weight = math.fsum(part**2 / degrees for part, degrees in parts)
    degrees = max(1, math.floor(squared**2 / weight + 1e-9))
    error = math.sqrt(squared)
    return Contrast(
        size=size,
        half_interval=student_quantile(0.975, degrees) * error,
        probability=t_two_sided(size / error, degrees),
        n=n,
        n_other=n_other,
    )


def _changes(chart: Chart) -> Mapping[Beats, tuple[str, str]]:
    """Return by beat what the chord changes from and to; spans of one chord in a row are one chord."""
    words = [span.chord.words for span in chart.spans]
    pairs = ((words[at - 1], word) for at, word in enumerate(words))
    return {start: pair for start, pair in zip(chart.starts, pairs, strict=True) if pair[0] != pair[1]}


def _by_kind(outcomes: Sequence[Outcome], after_skip: frozenset[int]) -> dict[tuple[Kind, bool], list[float]]:
    found: dict[tuple[Kind, bool], list[float]] = {}
    for o in outcomes:
        found.setdefault(_kind_of(o, after_skip), []).extend(placements_of([o]))
    return found


def _kind_of(outcome: Outcome, after_skip: frozenset[int]) -> tuple[Kind, bool]:
    return outcome.target.stroke.kind, outcome.target.index in after_skip


def _variance(values: Sequence[float]) -> float:
    mean = math.fsum(values) / len(values)
    return math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1)
