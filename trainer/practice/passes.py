"""Say whether a pass was clean, and in a few words why not.

A pass is clean when all of this holds:

- nine of ten strokes were as asked (in time, or a skip kept silent); a tap that no stroke asked for counts
  as one that was not;
- no skip was touched, and no gap after one rushed;
- the placements spread by no more than 8 % of a slot, 20 ms at least. At two slots to a beat that is 4 % of
  the beat, what untrained tappers reach (Repp 2005, from memory), and 20 ms is what listeners in a groove
  begin to notice (preprint osf.io/jsg94). Looser than the middle pocket, so it tells in a wide one;
- the placements did not move by more than that limit from the first stroke looked at to the last.

Where skips are marked on a side pad, the marks count for nothing here, nor does a mark that did not come: the
tempo hangs on what the hands did, as in what is kept of the take.

Spread and drift need more taps than a short figure has, so earlier passes at the same tempo may be looked at
with it; with too few taps even so, neither can be said and neither counts. Placements are tap minus target in
seconds, late positive; each kind of stroke is measured from its own middle.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.judging.breakdown import centred, drift_of, indices_after_skip, robust_spread
from trainer.judging.take import Judgement, Outcome, Tap, Verdict
from trainer.judging.verdicts import without_marks
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline

CLEAN_SHARE = 0.9
SPREAD_SHARE = 0.08  # of a slot
LEAST_SPREAD_S = 0.020
LEAST_TAPS = 12  # below, a spread from the median's deviations is off by a third and more
SURE = 0.05  # a drift that chance makes more often is none
LEAST_PASSES = 2
LEAST_STROKES = 16  # fewer say too little of nine in ten
BOUNCE_S = 0.060  # a second tap so soon is a pad that bounces, no habit of the hand
LOOKED_BACK = 3  # passes that help to say spread and drift
MOST_REASONS = 2  # more are not read beside a moving sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class PassPlayed:
    """What one pass came to.

    Attributes:
        bpm: the tempo it was asked at.
        clean: as the module's head says.
        share: strokes as asked, of those judged and the strays; None when nothing could be judged.
        spread_s: robust standard deviation of the placements; None with too few taps.
        skips_silent: no skip was touched.
        rushed: gaps cut short.
        drift_s: by how much the placements moved, late positive; None with too few taps.
        why: what was not clean, in a few words between commas, the worst first; empty for a clean pass.
    """

    bpm: Fraction
    clean: bool
    share: float | None = None
    spread_s: float | None = None
    skips_silent: bool = True
    rushed: int = 0
    drift_s: float | None = None
    why: str = ""


def spread_limit_s(slot_s: float) -> float:
    """Return the largest spread of a clean pass, in seconds, for a slot of ``slot_s`` seconds."""
    return max(LEAST_SPREAD_S, SPREAD_SHARE * slot_s)


def passes_needed(pattern: Pattern) -> int:
    """Return how many passes in a row say enough of a pattern: at least two, and sixteen strokes."""
    return max(LEAST_PASSES, math.ceil(LEAST_STROKES / max(1, strokes_asked(pattern))))


def strokes_asked(pattern: Pattern) -> int:
    """Return how many strokes a pass asks for; a skip is one, a rest is none."""
    return sum(1 for stroke in pattern.strokes if stroke.kind is not Kind.REST)


def pass_played(
    outcomes: Sequence[Outcome],
    bpm: Fraction,
    *,
    before: Sequence[Outcome] = (),
    strays: Iterable[Tap] = (),
) -> PassPlayed:
    """Return what one pass came to.

    Args:
        outcomes: of this pass, all of them settled, in order.
        bpm: the tempo it was asked at.
        before: outcomes of passes just before it, in order; those at another tempo are left out.
        strays: taps that no stroke asked for, of the whole take or of a part; those within the pass count.

    Returns:
        A pass in which nothing could be judged was not clean.
    """
    outcomes, before = without_marks(outcomes), without_marks(before)
    judged = [o for o in outcomes if o.verdict is not Verdict.NOT_JUDGED]
    if not judged:
        return PassPlayed(bpm=bpm, clean=False, why="nothing to judge")
    slot_s = judged[0].target.slot_s
    extra = _strays_within(outcomes, strays)
    counts = Counter(o.verdict for o in judged)
    share = sum(n for verdict, n in counts.items() if verdict.is_clean) / (len(judged) + extra)
    rushed = sum(1 for o in judged if o.rushed_gap)
    looked_at = [o for o in before if math.isclose(o.target.slot_s, slot_s)] + list(outcomes)
    spread_s, drift_s = _steadiness(looked_at)
    limit_s = spread_limit_s(slot_s)
    reasons = _slips(counts, rushed, extra, enough=share >= CLEAN_SHARE)
    if spread_s is not None and spread_s > limit_s:
        reasons.append(f"spread {spread_s * 1000:.0f} ms (limit {limit_s * 1000:.0f})")
    if drift_s is not None and abs(drift_s) > limit_s:
        reasons.append("slowing down" if drift_s > 0 else "speeding up")
    return PassPlayed(
        bpm=bpm,
        clean=not reasons,
        share=share,
        spread_s=spread_s,
        skips_silent=not counts[Verdict.TOUCHED],
        rushed=rushed,
        drift_s=drift_s,
        why=", ".join(reasons[:MOST_REASONS]),
    )


def passes_played(judgement: Judgement, timeline: Timeline, pattern: Pattern) -> dict[int, PassPlayed]:
    """Return what each whole pass of a take came to, by its index in order; one broken off is left out.

    A pass is at the tempo of its first beat; the three passes before it help to say spread and drift.
    """
    asked = strokes_asked(pattern)
    by_pass: dict[int, list[Outcome]] = {}
    for outcome in judgement.outcomes:
        by_pass.setdefault(outcome.target.pass_index, []).append(outcome)
    strays = [judgement.taps[at] for at in judgement.strays]
    played = {}
    before: list[Outcome] = []
    for index, outcomes in sorted(by_pass.items()):
        if len(outcomes) == asked:
            bpm = timeline.span_at(Fraction(index * pattern.beats)).bpm
            played[index] = pass_played(outcomes, bpm, before=before, strays=strays)
        before = [*before, *outcomes][-LOOKED_BACK * asked :]
    return played


def _strays_within(outcomes: Sequence[Outcome], strays: Iterable[Tap]) -> int:
    """Count the strays from half a slot before the first stroke to half a slot after the last."""
    first, last = outcomes[0].target, outcomes[-1].target
    taps_s = [o.tap.song_s for o in outcomes if o.tap is not None]
    start_s, end_s = first.song_s - first.slot_s / 2, last.song_s + last.slot_s / 2
    within = [tap.song_s for tap in strays if start_s <= tap.song_s < end_s and tap.hand is not Hand.NONE]
    return sum(1 for at in within if not any(0 <= at - tap_s <= BOUNCE_S for tap_s in taps_s))


def _steadiness(outcomes: Sequence[Outcome]) -> tuple[float | None, float | None]:
    """Return spread and drift in seconds; the drift is 0 when chance could have made it."""
    timed = [o for o in outcomes if o.placement_s is not None and o.verdict is not Verdict.TOUCHED]
    if len(timed) < LEAST_TAPS:
        return None, None
    after_skip = indices_after_skip(outcomes)
    spread_s = robust_spread(centred(timed, after_skip))
    drift = drift_of(timed, after_skip)
    if drift is None:
        return spread_s, None
    return spread_s, drift.moved_s if drift.probability < SURE else 0.0


def _slips(counts: Counter[Verdict], rushed: int, extra: int, *, enough: bool) -> list[str]:
    """Return what was not as asked, the worst first; single slips are forgiven while enough was clean."""
    reasons = []
    if counts[Verdict.TOUCHED]:
        reasons.append(_counted(counts[Verdict.TOUCHED], "skip touched", "skips touched"))
    if rushed:
        reasons.append(_counted(rushed, "gap rushed", "gaps rushed"))
    if enough:
        return reasons
    slips = {v.value: n for v, n in counts.items() if not v.is_clean and v is not Verdict.TOUCHED}
    if extra:
        slips[Verdict.STRAY.value] = extra
    reasons += [f"{n} {word}" for word, n in sorted(slips.items(), key=lambda each: -each[1])]
    return reasons


def _counted(n: int, one: str, more: str) -> str:
    return f"a {one}" if n == 1 else f"{n} {more}"
