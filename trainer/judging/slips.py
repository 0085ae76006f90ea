"""Test for slips: strokes missed, skips touched, the wrong hand or string, taps nobody asked for.

A slip in twenty is nobody's habit; more often than that is tested by the binomial, and said from one in
ten on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.judging.chance import binomial_tail
from trainer.judging.changes import ChordChange
from trainer.judging.take import Judgement, Outcome, Verdict
from trainer.judging.wording import Fault
from trainer.music.strokes import Kind

TOLERATED_SLIPS = 0.05  # one slip in twenty is nobody's habit
NOTABLE_SLIPS = 0.1  # fewer are not worth a sentence, however sure a long take makes them
SLIP_WEIGHT = 0.1  # of the false-alarm rate, beside 1 for timing: slips that are a habit come in plenty
BOUNCE_S = 0.060  # a second tap so soon is a pad that bounces, no habit of the hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One thing tested.

    Attributes:
        fault: which.
        probability: of seeing this or more when nothing is wrong.
        notable: large enough to be said.
        hits, n: how often of how many, or the taps behind ``size_s``.
        size_s, half_interval_s: in seconds, late positive; None for counts, or without an interval.
        kind: the stroke concerned, None for all.
        limit_s: spread allowed, where a spread was tested.
        change: the change of chord concerned, None for all.
        weight: its share of the false-alarm rate, beside those of the other tests.
    """

    fault: Fault
    probability: float
    notable: bool
    hits: int
    n: int
    size_s: float | None = None
    half_interval_s: float | None = None
    kind: Kind | None = None
    limit_s: float = 0.0
    change: ChordChange | None = None
    weight: float = 1.0


def until_broken_off(outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Return what was judged; strokes after the last tap are left out when they fill more than a bar."""
    judged = [o for o in outcomes if o.verdict is not Verdict.NOT_JUDGED]
    played = [at for at, o in enumerate(judged) if o.tap is not None]
    if not played:
        return []
    rest = judged[played[-1] + 1 :]
    bars = {(o.target.pass_index, o.target.bar) for o in rest}
    return judged[: played[-1] + 1] if len(bars) > 1 else judged


def slips_of(outcomes: Sequence[Outcome], judgement: Judgement) -> list[Candidate]:
    skips = [o for o in outcomes if o.target.stroke.kind is Kind.SKIP]
    strokes = [o for o in outcomes if o.target.stroke.kind is not Kind.SKIP]
    played = [o for o in strokes if o.tap is not None]
    rows: list[tuple[Fault, Verdict, Sequence[Outcome], Kind | None]] = [
        (Fault.TOUCHED_SKIP, Verdict.TOUCHED, skips, None),
        (Fault.MISSED, Verdict.MISSED, strokes, None),
        (Fault.WRONG_HAND, Verdict.WRONG_HAND, [o for o in played if o.tap and o.tap.hand], None),
        (Fault.WRONG_STRING, Verdict.WRONG_STRING, [o for o in played if o.tap and o.tap.string], None),
    ]
    kinds = {o.target.stroke.kind for o in strokes}
    if len(kinds) > 1:
        for kind in Kind:
            mine = [o for o in strokes if o.target.stroke.kind is kind]
            rows.append((Fault.MISSED_KIND, Verdict.MISSED, mine, kind))
    found = [
        _counted(fault, sum(1 for o in group if o.verdict is verdict), len(group), kind)
        for fault, verdict, group, kind in rows
        if group
    ]
    if strokes:
        found.append(_counted(Fault.STRAY, _strays(judgement), len(strokes), None))
    return found


def _counted(fault: Fault, hits: int, n: int, kind: Kind | None) -> Candidate:
    # Strays may outnumber the strokes; then they are as sure as can be.
    chance = binomial_tail(min(hits, n), n, TOLERATED_SLIPS)
    return Candidate(
        fault=fault,
        probability=chance,
        notable=hits >= 2 and hits >= NOTABLE_SLIPS * n,
        hits=hits,
        n=n,
        kind=kind,
        weight=SLIP_WEIGHT,
    )


def _strays(judgement: Judgement) -> int:
    """Count the strays that no other tap came just before."""
    taps = judgement.taps
    return sum(1 for at in judgement.strays if at == 0 or taps[at].song_s - taps[at - 1].song_s > BOUNCE_S)
