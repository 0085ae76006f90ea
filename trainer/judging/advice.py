"""Say what limits a player most, in at most three sentences, and only what the numbers bear out.

Every finding is a test with a stated probability under "nothing is wrong"; the probabilities share one
false-alarm rate of 5 % over all that was tested in a take (Bonferroni). A finding is also kept to
itself when the difference is smaller than a listener notices, max(6 ms, 2.5 % of the interval)
(Friberg & Sundberg 1995), or than the input can resolve. Wording stands in one table.
"""

from __future__ import annotations

import enum
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.judging.chance import binomial_tail, chi_square_tail, difference, slope
from trainer.judging.statistics import place
from trainer.judging.take import Judgement, Outcome, Verdict
from trainer.music.strokes import Kind

FALSE_ALARM = 0.05
TOLERATED_SLIPS = 0.05  # one slip in twenty is nobody's habit
MOST_SENTENCES = 3
LEAST_TAPS = 6
JND_FLOOR_S = 0.006
JND_SHARE = 0.025


class Fault(enum.Enum):
    """What can limit a player, the more fundamental first."""

    STOPPED = "many strokes missed"
    TOUCHED_SKIP = "skips touched"
    RUSHED_GAP = "gap rushed"
    WRONG_HAND = "wrong hand"
    DRIFT = "drifting"
    UNEVEN = "unsteady"
    KIND_EARLY = "one kind early"
    KIND_LATE = "one kind late"
    AHEAD = "all ahead"
    BEHIND = "all behind"


# One sentence of what was found, with its numbers, and one of what to do next.
WORDING: dict[Fault, str] = {
    Fault.STOPPED: "{hits} of {n} strokes did not sound; play slower by a fifth and keep the hand falling.",
    Fault.TOUCHED_SKIP: (
        "The nail touched on {hits} of {n} skips; drill the silent skip alone and let the hand fall clear."
    ),
    Fault.RUSHED_GAP: (
        "After a skip you come in {ms:.0f} ms early; count the skipped beat aloud and leave the hand moving."
    ),
    Fault.WRONG_HAND: (
        "{hits} of {n} strokes came from the other side of the hand; say nail and thumb aloud, slowly."
    ),
    Fault.DRIFT: "You move {way} by {ms:.0f} ms over the take; play it again, a little slower.",
    Fault.UNEVEN: (
        "Your strokes spread by {ms:.0f} ms and the pocket is {pocket:.0f} ms; play slower by a tenth."
    ),
    Fault.KIND_EARLY: "Your {kind} comes {ms:.0f} ms before the others; play {kind} and its neighbour alone.",
    Fault.KIND_LATE: "Your {kind} comes {ms:.0f} ms after the others; play {kind} and its neighbour alone.",
    Fault.AHEAD: (
        "You sit {ms:.0f} ms ahead of the click, all strokes alike; wait for the click, or calibrate."
    ),
    Fault.BEHIND: (
        "You sit {ms:.0f} ms behind the click, all strokes alike; that is a feel if meant, else calibrate."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that limits the player.

    Attributes:
        fault: which.
        sentence: what to say.
        size_s: how large, in seconds, late positive; None for counts.
        hits, n: how often of how many, or the taps behind ``size_s``.
        probability: of seeing this or more when nothing is wrong.
        kind: the stroke concerned, None for all.
    """

    fault: Fault
    sentence: str
    size_s: float | None
    hits: int
    n: int
    probability: float
    kind: Kind | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Candidate:
    fault: Fault
    probability: float
    notable: bool
    hits: int
    n: int
    size_s: float | None = None
    kind: Kind | None = None
    pocket_s: float = 0.0


def noticeable_s(interval_s: float) -> float:
    """Return the smallest displacement that listeners notice: max(6 ms, 2.5 % of the interval)."""
    return max(JND_FLOOR_S, JND_SHARE * interval_s)


def advise(judgement: Judgement) -> tuple[Finding, ...]:
    """Return at most three findings, the most limiting first; none when nothing is sure."""
    candidates = _candidates(judgement)
    level = FALSE_ALARM / max(1, len(candidates))
    sure = [c for c in candidates if c.notable and c.probability <= level]
    order = list(Fault)
    ranked = sorted(sure, key=lambda c: (order.index(c.fault), c.probability))
    return tuple(_finding(c) for c in _without_echoes(ranked)[:MOST_SENTENCES])


def _candidates(judgement: Judgement) -> list[_Candidate]:
    outcomes = [o for o in judgement.outcomes if o.verdict is not Verdict.NOT_JUDGED]
    timed = [
        o
        for o in outcomes
        if o.placement_s is not None and o.target.stroke.kind is not Kind.SKIP and o.tap is not None
    ]
    found = _counted(outcomes)
    if len(timed) < LEAST_TAPS:
        return found
    finest_s = 2 * max(o.tap.uncertainty_s for o in timed if o.tap is not None)
    least_s = max(noticeable_s(min(o.target.slot_s for o in timed)), finest_s)
    found += _by_gap_and_kind(timed, judgement, least_s)
    found += _whole(timed, judgement, least_s)
    return found


def _counted(outcomes: Sequence[Outcome]) -> list[_Candidate]:
    skips = [o for o in outcomes if o.target.stroke.kind is Kind.SKIP]
    others = [o for o in outcomes if o.target.stroke.kind is not Kind.SKIP]
    rows = (
        (Fault.TOUCHED_SKIP, Verdict.TOUCHED, skips),
        (Fault.STOPPED, Verdict.MISSED, others),
        (Fault.WRONG_HAND, Verdict.WRONG_HAND, others),
    )
    found = []
    for fault, verdict, group in rows:
        if group:
            hits = sum(1 for o in group if o.verdict is verdict)
            chance = binomial_tail(hits, len(group), TOLERATED_SLIPS)
            found.append(
                _Candidate(fault=fault, probability=chance, notable=hits >= 2, hits=hits, n=len(group))
            )
    return found


def _by_gap_and_kind(timed: Sequence[Outcome], judgement: Judgement, least_s: float) -> list[_Candidate]:
    after_skip = _indices_after_skip(judgement.outcomes)
    late = {id(o): o.placement_s or 0.0 for o in timed}
    found = []
    gap = [late[id(o)] for o in timed if o.target.index in after_skip]
    rest = [late[id(o)] for o in timed if o.target.index not in after_skip]
    if len(gap) >= LEAST_TAPS // 2 and len(rest) >= LEAST_TAPS // 2:
        size_s, chance = difference(gap, rest)
        found.append(
            _Candidate(
                fault=Fault.RUSHED_GAP,
                probability=chance,
                notable=size_s < -least_s,
                hits=len(gap),
                n=len(gap),
                size_s=size_s,
            )
        )
    for kind in Kind:
        # Strokes after a skip have their own test; counting them again here would blame twice.
        mine = [
            late[id(o)] for o in timed if o.target.stroke.kind is kind and o.target.index not in after_skip
        ]
        others = [
            late[id(o)]
            for o in timed
            if o.target.stroke.kind is not kind and o.target.index not in after_skip
        ]
        if len(mine) < LEAST_TAPS // 2 or len(others) < LEAST_TAPS // 2:
            continue
        size_s, chance = difference(mine, others)
        found.append(
            _Candidate(
                fault=Fault.KIND_EARLY if size_s < 0 else Fault.KIND_LATE,
                probability=chance,
                notable=abs(size_s) > least_s,
                hits=len(mine),
                n=len(mine),
                size_s=size_s,
                kind=kind,
            )
        )
    return found


def _whole(timed: Sequence[Outcome], judgement: Judgement, least_s: float) -> list[_Candidate]:
    placements = [o.placement_s or 0.0 for o in timed]
    times = [o.target.song_s for o in timed]
    n = len(timed)
    steep, chance = slope(times, placements)
    moved_s = steep * (times[-1] - times[0])
    pocket_s = min(judgement.pocket_s)
    found = [
        _Candidate(
            fault=Fault.DRIFT,
            probability=chance,
            notable=abs(moved_s) > 2 * least_s,
            hits=n,
            n=n,
            size_s=moved_s,
        )
    ]
    within = _within_groups(timed)
    spread_s, degrees = within
    if degrees > 0:
        # In the pocket most of the time means a spread of at most half its half-width.
        allowed_s = max(pocket_s / 2, least_s)
        found.append(
            _Candidate(
                fault=Fault.UNEVEN,
                probability=chi_square_tail(degrees * (spread_s / allowed_s) ** 2, degrees),
                notable=spread_s > allowed_s,
                hits=n,
                n=n,
                size_s=spread_s,
                pocket_s=pocket_s,
            )
        )
    placed = place(placements)
    mean_s = placed.mean_s or 0.0
    spread_all = placed.spread_s or 0.0
    if spread_all > 0:
        # Where a player sits is a feel up to half the pocket; beyond, it is said.
        beyond = abs(mean_s) - pocket_s / 2
        t = max(0.0, beyond) / (spread_all / math.sqrt(n))
        chance_mean = 2 * (1 - _normal_below(t)) if beyond > 0 else 1.0
        found.append(
            _Candidate(
                fault=Fault.AHEAD if mean_s < 0 else Fault.BEHIND,
                probability=chance_mean,
                notable=beyond > 0 and abs(mean_s) > least_s,
                hits=n,
                n=n,
                size_s=mean_s,
            )
        )
    return found


def _within_groups(timed: Sequence[Outcome]) -> tuple[float, int]:
    """Return the spread about each slot's own mean and its degrees of freedom: a bias is no spread."""
    groups: dict[tuple[int, int], list[float]] = {}
    for o in timed:
        groups.setdefault((o.target.bar, o.target.slot), []).append(o.placement_s or 0.0)
    squares, degrees = 0.0, 0
    for values in groups.values():
        mean = math.fsum(values) / len(values)
        squares += math.fsum((v - mean) ** 2 for v in values)
        degrees += len(values) - 1
    return (math.sqrt(squares / degrees), degrees) if degrees > 0 else (0.0, 0)


def _indices_after_skip(outcomes: Sequence[Outcome]) -> frozenset[int]:
    return frozenset(
        after.target.index
        for before, after in itertools.pairwise(outcomes)
        if before.target.stroke.kind is Kind.SKIP and after.target.stroke.kind is not Kind.SKIP
    )


def _normal_below(z: float) -> float:
    return 0.5 * (1 + math.erf(z / math.sqrt(2)))


def _without_echoes(candidates: list[_Candidate]) -> list[_Candidate]:
    """Drop findings that only repeat one before them: of two kinds apart, one being early is enough."""
    kept: list[_Candidate] = []
    for c in candidates:
        kinds = [k for k in kept if k.fault in (Fault.KIND_EARLY, Fault.KIND_LATE)]
        if c.fault in (Fault.KIND_EARLY, Fault.KIND_LATE) and kinds:
            continue
        kept.append(c)
    return kept


def _finding(c: _Candidate) -> Finding:
    ms = abs(c.size_s or 0.0) * 1000
    sentence = WORDING[c.fault].format(
        hits=c.hits,
        n=c.n,
        ms=ms,
        kind=c.kind.value if c.kind else "",
        pocket=c.pocket_s * 1000,
        way="ahead" if (c.size_s or 0.0) < 0 else "behind",
    )
    return Finding(
        fault=c.fault,
        sentence=sentence,
        size_s=c.size_s,
        hits=c.hits,
        n=c.n,
        probability=c.probability,
        kind=c.kind,
    )
