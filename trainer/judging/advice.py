"""Say what limits a player most, in at most three sentences, and only what the numbers bear out.

Every finding is one of the tests of :mod:`trainer.judging.limits`. All tests of a take share one
false-alarm rate of 4 % (Holm's rule); what no listener could hear is not said. Words stand in
:mod:`trainer.judging.wording`, the more fundamental faults first.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.judging.chance import holm
from trainer.judging.limits import FALSE_ALARM, candidates
from trainer.judging.slips import Candidate
from trainer.judging.take import Judgement
from trainer.judging.wording import LATE_MOST_AT, WORDING, Fault
from trainer.music.chart import Chart
from trainer.music.strokes import Kind

MOST_SENTENCES = 3
# Faults of one family are told once: the largest speaks for them.
FAMILY = {
    Fault.MISSED_KIND: Fault.MISSED,
    Fault.KIND_LATE: Fault.KIND_EARLY,
    Fault.LATE_CHANGE: Fault.LATE_AFTER_CHANGE,
}
MOST_OF_IT = 2 / 3  # of all strokes missed; then one kind stands for them


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that limits the player.

    Attributes:
        fault: which.
        sentence: what to say.
        size_s: how large, in seconds, late positive; None for counts.
        half_interval_s: the size lies within this with 95 % confidence; None where it has no such interval.
        hits, n: how often of how many, or the taps behind ``size_s``.
        probability: of seeing this or more when nothing is wrong.
        kind: the stroke concerned, None for all.
        change: the change of chord that costs most, where one stands out, as ``from 1 to 4 in bar 5``.
    """

    fault: Fault
    sentence: str
    size_s: float | None
    half_interval_s: float | None
    hits: int
    n: int
    probability: float
    kind: Kind | None = None
    change: str = ""


def advise(judgement: Judgement, chart: Chart | None = None) -> tuple[Finding, ...]:
    """Return at most three findings, the most limiting first; none when nothing is sure.

    A take that was read (:mod:`trainer.judging.reading`) is advised upon under its reading, and the reading
    comes first where it says something.

    Args:
        chart: the chords under one pass, so that strokes after a change can be told from the others.
    """
    first = _of_reading(judgement)
    judgement = judgement.told
    tested = candidates(judgement, chart)
    stands = holm([c.probability for c in tested], [c.weight for c in tested], FALSE_ALARM)
    sure = [c for c, stand in zip(tested, stands, strict=True) if stand and c.notable]
    order = list(Fault)
    ranked = sorted(sure, key=lambda c: (order.index(_family(c)), _rank_among_kinds(c)))
    worst = next((c for c in ranked if c.fault is Fault.LATE_CHANGE), None)
    found = [_finding(c, worst) for c in _without_echoes(ranked)]
    return tuple([*first, *found][:MOST_SENTENCES])


def _of_reading(judgement: Judgement) -> list[Finding]:
    """Return how the take was played as a whole, where that says something; it is no test of its own."""
    reading = judgement.reading
    if reading is None or not reading.says_something:
        return []
    n = sum(1 for o in judgement.told.outcomes if o.tap is not None)
    finding = Finding(
        fault=Fault.READING,
        sentence=reading.sentence,
        size_s=None,
        half_interval_s=None,
        hits=n,
        n=n,
        probability=0.0,
    )
    return [finding]


def _rank_among_kinds(c: Candidate) -> tuple[bool, float, float]:
    """Put one kind before the whole, as it may stand for it, and what is further off before the rest.

    Of changes the whole comes before the one, which it names too.
    """
    after = c.fault not in (Fault.MISSED_KIND, Fault.LATE_AFTER_CHANGE)
    return after, -abs(c.size_s or 0.0), c.probability


def _without_echoes(found: list[Candidate]) -> list[Candidate]:
    """Drop findings that only repeat one before them.

    Of kinds that lie apart one is enough, and so is one kind that is missed: the others are said
    next time, if they are still there. A kind stands for all that was missed when it has most of it.
    """
    missed = next((c.hits for c in found if c.fault is Fault.MISSED), 0)
    kept: list[Candidate] = []
    for c in found:
        if c.fault is Fault.MISSED_KIND and c.hits < MOST_OF_IT * missed:
            continue
        if any(_family(k) is _family(c) for k in kept):
            continue
        kept.append(c)
    return kept


def _family(c: Candidate) -> Fault:
    return FAMILY.get(c.fault, c.fault)


def _finding(c: Candidate, worst: Candidate | None) -> Finding:
    names = c.fault in (Fault.LATE_AFTER_CHANGE, Fault.LATE_CHANGE) and worst is not None
    change = worst.change.words if names and worst is not None and worst.change is not None else ""
    words = LATE_MOST_AT if names and c.fault is Fault.LATE_AFTER_CHANGE else WORDING[c.fault]
    sentence = words.format(
        hits=c.hits,
        n=c.n,
        ms=abs(c.size_s or 0.0) * 1000,
        kind=c.kind.value if c.kind else "",
        limit=c.limit_s * 1000,
        change=change,
        change_ms=(worst.size_s or 0.0) * 1000 if worst is not None else 0.0,
    )
    return Finding(
        fault=c.fault,
        sentence=sentence,
        size_s=c.size_s,
        half_interval_s=c.half_interval_s,
        hits=c.hits,
        n=c.n,
        probability=c.probability,
        kind=c.kind,
        change=change,
    )
