"""Test for each thing that can limit a player, with its probability when nothing is wrong.

- Slips (missed, touched, wrong hand or string, strays): more often than one in twenty, binomial; said
  from one in ten on.
- The gap after a skip, and each kind of stroke against the others: Welch's test, slips left out, so that
  one cannot lie for all. A gap is compared with the same kind of stroke elsewhere, if there is one, and
  tested each way by itself: that it is rushed is what the figures with skips are about, and has the larger
  part of the false alarms, that it is dragged a small one.
- The stroke after a chord change against its like inside a chord, and each change by itself
  (:mod:`trainer.judging.changes`); all changes of a chart together weigh as much as one other test.
- Drift and place: over the means of up to eight stretches, because a hand that follows a click carries
  what it was off by from stroke to stroke. Place is a feel as long as the mean lies in the pocket, or
  within 30 ms behind or 80 ms ahead: taps lead a click by 20 to 80 ms in most people (Aschersleben 2002;
  Repp 2005; from memory).
- Steadiness: spread about each slot's own place, drift and slips taken off, against half the pocket; by
  chi-square with fewer degrees of freedom the more strokes hang together (Bartlett 1935, from memory).

A size counts as notable when it is larger than a listener notices, max(6 ms, 2.5 % of the interval)
(Friberg & Sundberg 1995), and than the input can resolve.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from trainer.judging.breakdown import (
    Drift,
    centred,
    drift_of,
    indices_after_skip,
    placements_of,
    robust_spread,
    timed_outcomes,
)
from trainer.judging.chance import (
    Contrast,
    batch_means,
    chi_square_tail,
    contrast,
    contrast_alike,
    t_two_sided,
)
from trainer.judging.changes import ChordChange, first_after_changes, later_than_alike
from trainer.judging.slips import Candidate, slips_of, until_broken_off
from trainer.judging.statistics import placement_of
from trainer.judging.take import Judgement, Outcome
from trainer.judging.wording import Fault
from trainer.music.chart import Chart
from trainer.music.strokes import Kind

LEAST_TAPS = 6
LEAST_IN_GROUP = 3
JND_FLOOR_S = 0.006
JND_SHARE = 0.025
USUAL_LEAD_S = 0.080  # Aschersleben 2002; Repp 2005; from memory
USUAL_LAG_S = 0.030
FALSE_ALARM = 0.04  # of all that is tested in a take; so that no kind of player comes to more than 5 %
SLIP_SPREADS = 3.5  # robust spreads; beyond, a tap is a slip (1 in 2000 of a normal spread)
FEW_TAPS = 8  # at so many degrees of freedom a slip must lie twice as far off
RUSH_WEIGHT, DRAG_WEIGHT = 3.0, 0.5  # what the figures with skips are about; few strokes come after one


def noticeable_s(interval_s: float) -> float:
    """Return the smallest displacement that listeners notice: max(6 ms, 2.5 % of the interval)."""
    return max(JND_FLOOR_S, JND_SHARE * interval_s)


def candidates(judgement: Judgement, chart: Chart | None = None) -> list[Candidate]:
    """Return every test that a take allows, in no order; none when nothing was played.

    Args:
        chart: the chords under one pass, None for a pattern without.
    """
    outcomes = until_broken_off(judgement.outcomes)
    found = slips_of(outcomes, judgement)
    timed = timed_outcomes(judgement)
    if len(timed) < LEAST_TAPS:
        return found
    finest_s = 2 * max(o.tap.uncertainty_s for o in timed if o.tap is not None)
    least_s = max(noticeable_s(min(o.target.slot_s for o in timed)), finest_s)
    after_skip = indices_after_skip(judgement.outcomes)
    changes = first_after_changes([o.target for o in judgement.outcomes], chart)
    apart = _by_change(timed, changes)
    steady = _without_slips(timed, after_skip, apart)
    at_changes = _changes(steady, after_skip, changes, least_s)
    found += at_changes
    if any(c.probability <= FALSE_ALARM for c in at_changes):
        # What a change of chord does is no matter of the gap or of the kind of stroke.
        steady = [o for o in steady if o.target.index not in changes]
    found += _gap(steady, after_skip, least_s)
    found += _kinds([o for o in steady if o.target.index not in after_skip], least_s)
    drift = drift_of(timed, after_skip)
    if drift is not None:
        found.append(_drift(drift, timed, least_s))
        found += _steadiness(drift, timed, (after_skip, apart), min(judgement.pocket_s), least_s)
    found += _place(timed, min(judgement.pocket_s))
    return found


def _by_change(timed: Sequence[Outcome], changes: Mapping[int, ChordChange]) -> dict[int, object]:
    """Return which change each stroke after one follows, "any" where that one came too seldom."""
    often = Counter(changes[o.target.index] for o in timed if o.target.index in changes)
    return {
        index: change.beat if often[change] >= LEAST_IN_GROUP else "any" for index, change in changes.items()
    }


def _without_slips(
    timed: Sequence[Outcome], after_skip: frozenset[int], apart: Mapping[int, object]
) -> list[Outcome]:
    """Return what lies near the middle of its kind, as the take's own spread goes."""
    residuals = centred(timed, after_skip, apart)
    kinds = {(o.target.stroke.kind, o.target.index in after_skip, apart.get(o.target.index)) for o in timed}
    reach_s = _slip_reach_s(residuals, len(kinds))
    return [o for o, r in zip(timed, residuals, strict=True) if abs(r) <= reach_s]


def _slip_reach_s(residuals: Sequence[float], middles: int) -> float:
    """Return how far from the middle of its kind a tap must lie to be a slip.

    Taps about ``middles`` medians of their own lie too close by sqrt(degrees / n), and the spread of a few is
    unsure besides; what is cut off a short take by mistake makes all that is left look surer than it is.
    """
    degrees = max(1, len(residuals) - middles)
    fair = math.sqrt(len(residuals) / degrees) * (1 + FEW_TAPS / degrees)
    return SLIP_SPREADS * fair * robust_spread(residuals)


def _changes(
    timed: Sequence[Outcome],
    after_skip: frozenset[int],
    changes: Mapping[int, ChordChange],
    least_s: float,
) -> list[Candidate]:
    after = [o for o in timed if o.target.index in changes]
    inside = [o for o in timed if o.target.index not in changes]
    changed_at = sorted(set(changes.values()), key=lambda change: change.beat)
    found = _after_change(after, inside, after_skip, least_s, None, 1.0)
    for change in changed_at:
        mine = [o for o in after if changes[o.target.index] == change]
        # One change alone is told only when there are others that it stands out from.
        if len(changed_at) > 1:
            found += _after_change(mine, inside, after_skip, least_s, change, 1 / len(changed_at))
    return found


def _after_change(
    after: Sequence[Outcome],
    inside: Sequence[Outcome],
    after_skip: frozenset[int],
    least_s: float,
    change: ChordChange | None,
    weight: float,
) -> list[Candidate]:
    found = later_than_alike(after, inside, after_skip)
    if found is None:
        return []
    late = Fault.LATE_CHANGE if change is not None else Fault.LATE_AFTER_CHANGE
    return [
        Candidate(
            fault=late if found.size > 0 else Fault.EARLY_AFTER_CHANGE,
            probability=found.probability,
            # A change that comes early by itself is no more than a part of coming early after changes.
            notable=abs(found.size) > least_s and (change is None or found.size > 0),
            hits=found.n,
            n=found.n,
            size_s=found.size,
            half_interval_s=found.half_interval,
            change=change,
            weight=weight,
        )
    ]


def _gap(timed: Sequence[Outcome], after_skip: frozenset[int], least_s: float) -> list[Candidate]:
    after = [o for o in timed if o.target.index in after_skip]
    kinds = {o.target.stroke.kind for o in after}
    rest = [o for o in timed if o.target.index not in after_skip]
    alike = [o for o in rest if o.target.stroke.kind in kinds]
    # A drop-thumb that is early everywhere rushes no gap, so its own kind is the better measure.
    if len(alike) >= LEAST_TAPS and {o.target.stroke.kind for o in alike} == kinds:
        rest = alike
    tested = _apart(
        after, rest, least_s, early=Fault.RUSHED_GAP, late=Fault.DRAGGED_GAP, compare=contrast_alike
    )
    return [one for c in tested for one in _each_way(c)]


def _each_way(gap: Candidate) -> list[Candidate]:
    """Return a gap tested each way; half of its two-sided chance lies either way."""
    return [
        replace(
            gap,
            fault=fault,
            probability=gap.probability / 2 if gap.fault is fault else 1 - gap.probability / 2,
            notable=gap.notable and gap.fault is fault,
            weight=weight,
        )
        for fault, weight in ((Fault.RUSHED_GAP, RUSH_WEIGHT), (Fault.DRAGGED_GAP, DRAG_WEIGHT))
    ]


def _kinds(timed: Sequence[Outcome], least_s: float) -> list[Candidate]:
    kinds = [kind for kind in Kind if any(o.target.stroke.kind is kind for o in timed)]
    if len(kinds) == 2:
        # Each is early by as much as the other is late: one test, told of the one further from its place.
        kinds = sorted(kinds, key=lambda k: abs(_mean_of(k, timed)))[1:]
    found = []
    for kind in kinds:
        mine = [o for o in timed if o.target.stroke.kind is kind]
        others = [o for o in timed if o.target.stroke.kind is not kind]
        found += _apart(mine, others, least_s, early=Fault.KIND_EARLY, late=Fault.KIND_LATE, kind=kind)
    return found


def _mean_of(kind: Kind, timed: Sequence[Outcome]) -> float:
    mine = placements_of([o for o in timed if o.target.stroke.kind is kind])
    return math.fsum(mine) / len(mine)


def _apart(
    one: Sequence[Outcome],
    other: Sequence[Outcome],
    least_s: float,
    *,
    early: Fault,
    late: Fault,
    kind: Kind | None = None,
    compare: Callable[[Sequence[float], Sequence[float]], Contrast | None] = contrast,
) -> list[Candidate]:
    if min(len(one), len(other)) < LEAST_IN_GROUP:
        return []
    mine = placements_of(one)
    found = compare(mine, placements_of(other))
    if found is None:
        return []
    return [
        Candidate(
            fault=early if found.size < 0 else late,
            probability=found.probability,
            notable=abs(found.size) > least_s,
            hits=len(one),
            n=len(one),
            size_s=found.size,
            half_interval_s=found.half_interval,
            kind=kind,
        )
    ]


def _drift(drift: Drift, timed: Sequence[Outcome], least_s: float) -> Candidate:
    minutes = (timed[-1].target.song_s - timed[0].target.song_s) / 60
    return Candidate(
        fault=Fault.DRIFT_AHEAD if drift.moved_s < 0 else Fault.DRIFT_BEHIND,
        probability=drift.probability,
        # Spread over a whole take, a move is heard later than a jump.
        notable=abs(drift.moved_s) > 2 * least_s,
        hits=len(timed),
        n=len(timed),
        size_s=drift.moved_s,
        half_interval_s=drift.half_interval_s_per_minute * minutes,
    )


def _steadiness(
    drift: Drift,
    timed: Sequence[Outcome],
    apart: tuple[frozenset[int], Mapping[int, object]],
    pocket_s: float,
    least_s: float,
) -> list[Candidate]:
    """Test the spread; ``apart`` is what sets strokes apart: the skip before them, the change they follow."""
    level = _without_drift(timed, apart, drift.s_per_minute / 60)
    cells = _cells(timed, apart)
    reach_s = _slip_reach_s(level, len(set(cells)))
    kept = [(cell, r) for cell, r in zip(cells, level, strict=True) if abs(r) <= reach_s]
    residuals = _about_cell_means(kept)
    degrees = len(kept) - len({cell for cell, _ in kept}) - 1
    squares = math.fsum(r * r for r in residuals)
    if degrees < 2 or squares <= 0:
        return []
    spread_s = math.sqrt(squares / degrees)
    lag1 = math.fsum(a * b for a, b in itertools.pairwise(residuals)) / squares
    worth = max(1, math.floor(degrees * (1 - lag1**2) / (1 + lag1**2)))
    # In the pocket most of the time means a spread of at most half its half-width.
    allowed_s = max(pocket_s / 2, least_s)
    return [
        Candidate(
            fault=Fault.UNEVEN,
            probability=chi_square_tail(worth * (spread_s / allowed_s) ** 2, worth),
            notable=spread_s > allowed_s,
            hits=len(kept),
            n=len(kept),
            size_s=spread_s,
            limit_s=allowed_s,
        )
    ]


def _without_drift(
    timed: Sequence[Outcome], apart: tuple[frozenset[int], Mapping[int, object]], rate: float
) -> list[float]:
    """Return placements about the median of their kind, less a drift of ``rate`` seconds a second."""
    middle_s = (timed[0].target.song_s + timed[-1].target.song_s) / 2
    values = centred(timed, *apart)
    return [v - rate * (o.target.song_s - middle_s) for v, o in zip(values, timed, strict=True)]


def _cells(
    timed: Sequence[Outcome], apart: tuple[frozenset[int], Mapping[int, object]]
) -> list[tuple[object, ...]]:
    """Return what each stroke is compared with: its slot over the passes, or its kind with few passes."""
    slots: list[tuple[object, ...]] = [(o.target.bar, o.target.slot) for o in timed]
    if len(timed) >= LEAST_IN_GROUP * len(set(slots)):
        return slots
    after_skip, changes = apart
    return [(o.target.stroke.kind, o.target.index in after_skip, changes.get(o.target.index)) for o in timed]


def _about_cell_means(values: Sequence[tuple[tuple[object, ...], float]]) -> list[float]:
    sums: dict[tuple[object, ...], list[float]] = {}
    for cell, value in values:
        sums.setdefault(cell, []).append(value)
    means = {cell: math.fsum(found) / len(found) for cell, found in sums.items()}
    return [value - means[cell] for cell, value in values]


def _place(timed: Sequence[Outcome], pocket_s: float) -> list[Candidate]:
    means = batch_means(placements_of(timed))
    placed = placement_of(means)
    if placed.mean_s is None or placed.spread_s is None:
        return []
    beyond_s = abs(placed.mean_s) - max(pocket_s, USUAL_LEAD_S if placed.mean_s < 0 else USUAL_LAG_S)
    error_s = placed.spread_s / math.sqrt(len(means))
    chance = 1.0
    if beyond_s > 0:
        chance = t_two_sided(beyond_s / error_s, len(means) - 1) if error_s > 0 else 0.0
    return [
        Candidate(
            fault=Fault.AHEAD if placed.mean_s < 0 else Fault.BEHIND,
            probability=chance,
            notable=beyond_s > 0,
            hits=len(timed),
            n=len(timed),
            size_s=placed.mean_s,
            half_interval_s=placed.half_interval_s,
        )
    ]
