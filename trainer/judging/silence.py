"""Say how a player keeps time in bars in which nothing is heard, and where the click finds them again.

Placements are tap minus target in seconds, late positive. They are first taken from where the player's
strokes sit with the click, kind by kind, so that a habit of being ahead is not taken for a drift.

In silence each interval adds its own error to all that follow (Wing & Kristofferson 1973), so strokes within
one silence are no independent witnesses; the silences are, for between them the click takes the hand back.
Therefore each silence gives one steepness and one return, and intervals and probabilities come from the
spread of these over the silences (Student's t), never from single strokes.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.judging.breakdown import indices_after_skip, timed_outcomes
from trainer.judging.chance import holm, slope, t_two_sided
from trainer.judging.limits import noticeable_s
from trainer.judging.statistics import LEAST_FOR_SPREAD, Placement, placement_of
from trainer.judging.take import Judgement, Outcome

LEAST_SILENCES = 3
LEAST_TAPS_IN_SILENCE = 4
# Of telling a player who keeps the tempo otherwise: 5 % is allowed, as the advice allows itself. The usual
# places are measured too, and their error is common to all silences; the difference makes up for that.
ALLOWED_RATE = 0.05
TESTED_RATE = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Silence:
    """One stretch of silent bars that was played through.

    Attributes:
        first_bar, bars: from which bar, counted from 0 through all passes, and how many.
        taps: strokes played in it.
        s_per_bar: how much later each bar comes than the one before, by a straight line.
        moved_s: the same over the whole stretch.
        return_s: how late the first stroke within a beat after it was; None without one.
    """

    first_bar: int
    bars: int
    taps: int
    s_per_bar: float
    moved_s: float
    return_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Silences:
    """All silences of a take.

    Attributes:
        silences: those with at least four strokes played, in order.
        drift: mean and 95 % interval of ``s_per_bar`` over the silences.
        drift_probability: of a mean so far from none, either way, when there is no drift; 1 with too few.
        by_bar: where the strokes of the first, second … silent bar sat, a mean of means over the silences.
        returns: mean and interval of ``return_s``; ``return_probability`` as for the drift.
        spread_silent_s, spread_clicked_s: scatter about the straight line of each stretch of silent bars, and
            of bars with the click; None with too few strokes.
        least_s: the smallest displacement worth a word.
    """

    silences: tuple[Silence, ...]
    drift: Placement
    drift_probability: float
    by_bar: tuple[Placement, ...]
    returns: Placement
    return_probability: float
    spread_silent_s: float | None
    spread_clicked_s: float | None
    least_s: float


def silences_of(judgement: Judgement, silent_bars: frozenset[int], beats_per_bar: int) -> Silences | None:
    """Return how a player kept time in silence; None when nothing was played in a silent bar.

    Args:
        silent_bars: bars counted from 0 through all passes.
    """
    timed = timed_outcomes(judgement)
    if not any(_bar(o, beats_per_bar) in silent_bars for o in timed):
        return None
    placed = _from_usual_place(timed, indices_after_skip(judgement.outcomes), silent_bars, beats_per_bar)
    stretches = [
        (silent, list(found)) for silent, found in itertools.groupby(placed, lambda p: p.bar in silent_bars)
    ]
    found: list[Silence] = []
    lines = {True: _Scatter(), False: _Scatter()}
    for at, (silent, stretch) in enumerate(stretches):
        line = slope([p.bar_time for p in stretch], [p.late_s for p in stretch])
        if line is None:
            continue
        lines[silent].add(stretch, line.steepness)
        if silent and len(stretch) >= LEAST_TAPS_IN_SILENCE:
            after = stretches[at + 1][1] if at + 1 < len(stretches) else []
            found.append(_silence(stretch, line.steepness, after, beats_per_bar))
    drift = placement_of([s.s_per_bar for s in found])
    returns = placement_of([s.return_s for s in found if s.return_s is not None])
    return Silences(
        silences=tuple(found),
        drift=drift,
        drift_probability=_probability(drift),
        by_bar=_by_bar([stretch for silent, stretch in stretches if silent]),
        returns=returns,
        return_probability=_probability(returns),
        spread_silent_s=lines[True].spread_s,
        spread_clicked_s=lines[False].spread_s,
        least_s=_least_s(timed),
    )


def silence_sentence(silences: Silences) -> str:
    """Return what to say of it in one or two sentences, each borne out by the numbers.

    Of a player who keeps the tempo something is said with a probability of at most 5 % (Holm over the two
    tests); smaller sizes than listeners notice are never said.
    """
    n = len(silences.silences)
    if silences.drift.n < LEAST_SILENCES or silences.drift.half_interval_s is None:
        return (
            f"{n} silence{'s' if n != 1 else ''} played through: at least {LEAST_SILENCES} are wanted to say "
            "how you keep time in them; play more passes."
        )
    bars = statistics.median(s.bars for s in silences.silences)
    chances = [silences.drift_probability, silences.return_probability]
    drift_stands, return_stands = holm(chances, [1.0, 1.0], TESTED_RATE)
    said = []
    mean_s, half_s = silences.drift.mean_s or 0.0, silences.drift.half_interval_s
    if drift_stands and abs(mean_s) * bars > silences.least_s:
        way = "hurry" if mean_s < 0 else "slow down"
        said.append(
            f"In silent bars you {way} by {abs(mean_s) * 1000:.0f} ms a bar (give or take "
            f"{half_s * 1000:.0f}); count every beat aloud until the click is back."
        )
    back_s = silences.returns.mean_s or 0.0
    if return_stands and abs(back_s) > silences.least_s:
        way = "before" if back_s < 0 else "after"
        said.append(
            f"When the click comes back you are {abs(back_s) * 1000:.0f} ms {way} where you play with it."
        )
    if said:
        return " ".join(said)
    if half_s * bars <= silences.least_s:
        return f"You kept the tempo through {n} silences: {mean_s * 1000:+.0f} ms a bar, no more than chance."
    return (
        f"No drift can be told from chance in {n} silences ({mean_s * 1000:+.0f} ms a bar, give or take "
        f"{half_s * 1000:.0f}); play more passes to know."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """A stroke played: its bar, its time in bars, and how late it was beside the player's own place."""

    bar: int
    bar_time: float
    late_s: float


class _Scatter:
    """Squares about the lines of several stretches."""

    def __init__(self) -> None:
        self._squares: list[float] = []
        self._degrees = 0

    def add(self, stretch: Sequence[_Placed], steepness: float) -> None:
        middle = math.fsum(p.bar_time for p in stretch) / len(stretch)
        mean_s = math.fsum(p.late_s for p in stretch) / len(stretch)
        self._squares += [(p.late_s - mean_s - steepness * (p.bar_time - middle)) ** 2 for p in stretch]
        self._degrees += len(stretch) - 2

    @property
    def spread_s(self) -> float | None:
        return math.sqrt(math.fsum(self._squares) / self._degrees) if self._degrees > 2 else None


def _bar(outcome: Outcome, beats_per_bar: int) -> int:
    return int(outcome.target.beat // beats_per_bar)


def _from_usual_place(
    timed: Sequence[Outcome], after_skip: frozenset[int], silent_bars: frozenset[int], beats_per_bar: int
) -> list[_Placed]:
    """Return each stroke beside the median of its kind where the click was heard.

    The first bar after a silence is left out where there are others: the hand is still on its way back. A
    kind that was hardly played with the click is measured from the median of all that were.
    """
    clicked = [o for o in timed if _bar(o, beats_per_bar) not in silent_bars]
    settled = [o for o in clicked if _bar(o, beats_per_bar) - 1 not in silent_bars]
    clicked = settled or clicked
    overall_s = statistics.median([o.placement_s or 0.0 for o in clicked] or [0.0])
    cells: dict[object, list[float]] = {}
    for o in clicked:
        cells.setdefault(_cell(o, after_skip), []).append(o.placement_s or 0.0)
    usual = {
        cell: statistics.median(values) for cell, values in cells.items() if len(values) >= LEAST_FOR_SPREAD
    }
    return [
        _Placed(
            bar=_bar(o, beats_per_bar),
            bar_time=float(o.target.beat) / beats_per_bar,
            late_s=(o.placement_s or 0.0) - usual.get(_cell(o, after_skip), overall_s),
        )
        for o in timed
    ]


def _cell(outcome: Outcome, after_skip: frozenset[int]) -> object:
    return outcome.target.stroke.kind, outcome.target.index in after_skip


def _silence(
    stretch: Sequence[_Placed], s_per_bar: float, after: Sequence[_Placed], beats_per_bar: int
) -> Silence:
    first, last = stretch[0].bar, stretch[-1].bar
    # A stroke that comes later than a beat after the click has had the click to go by.
    back = [p for p in after[:1] if p.bar_time - (last + 1) < 1 / beats_per_bar]
    return Silence(
        first_bar=first,
        bars=last - first + 1,
        taps=len(stretch),
        s_per_bar=s_per_bar,
        moved_s=s_per_bar * (stretch[-1].bar_time - stretch[0].bar_time),
        return_s=back[0].late_s if back else None,
    )


def _by_bar(stretches: Sequence[Sequence[_Placed]]) -> tuple[Placement, ...]:
    means: dict[int, list[float]] = {}
    for stretch in stretches:
        for bar, played in itertools.groupby(stretch, lambda p: p.bar):
            means.setdefault(bar - stretch[0].bar, []).append(statistics.mean(p.late_s for p in played))
    return tuple(placement_of(means.get(n, [])) for n in range(max(means, default=-1) + 1))


def _probability(placement: Placement) -> float:
    """Return how likely a mean so far from none is when there is none, by Student's t."""
    mean_s, spread_s = placement.mean_s, placement.spread_s
    if mean_s is None or spread_s is None or placement.n < LEAST_SILENCES:
        return 1.0
    error_s = spread_s / math.sqrt(placement.n)
    if error_s <= 0:
        return 1.0 if mean_s == 0 else 0.0
    return t_two_sided(mean_s / error_s, placement.n - 1)


def _least_s(timed: Sequence[Outcome]) -> float:
    """Return what a listener would notice at this tempo, and the input can resolve."""
    slot_s = min(o.target.slot_s for o in timed)
    finest_s = 2 * max((o.tap.uncertainty_s for o in timed if o.tap is not None), default=0.0)
    return max(noticeable_s(slot_s), finest_s)
