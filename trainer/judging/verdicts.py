"""Say what became of each stroke of a take.

Sign: placement is tap minus target, late positive. A verdict never claims more than the tap's own
uncertainty allows: a tap is early or late only when all of its possible moments lie outside the pocket.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from trainer.errors import BadTimes
from trainer.judging.matching import is_unheard, match, microseconds, price, strays_among, touch_of
from trainer.judging.pocket import Pocket
from trainer.judging.spared import Span, is_spared, spared
from trainer.judging.take import Judgement, Outcome, Tap, Verdict
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind

SKIP_VERDICTS = (Verdict.KEPT_SILENT, Verdict.TOUCHED, Verdict.NOT_JUDGED)  # without a mark
MOST_IN_A_ROW = 4  # rushed gaps that are looked through for the last stroke that was not rushed


def judge(
    targets: Sequence[Target],
    taps: Sequence[Tap],
    *,
    pocket: Pocket = Pocket.MIDDLE,
    knows_left: bool = False,
    marks_skips: bool = False,
    spans: Sequence[Span] = (),
    constant_s: float = 0.0,
) -> Judgement:
    """Judge a whole take.

    Args:
        targets: from :func:`trainer.music.layout.lay_out`, in order; rests are passed over.
        taps: in any order.
        pocket: how far from its target a tap may fall and still be in time.
        knows_left: whether the input has a pad or key for the left hand.
        marks_skips: whether each skip is to be marked on a side pad (``Hand.NONE``), which is then judged for
            its placement, and missed when it does not come; the nail on a skip is a touch as ever.
        spans: where nothing is judged (:mod:`trainer.judging.spared`), as ``joined`` gives them.
        constant_s: what all taps are known to have in common, late positive: taps are paired as if it were
            none, so that a steady lead makes no rushed stroke a touched skip. Placements are told with it.

    Returns:
        One outcome for each target that is not a rest, in the order given, and the stray taps.

    Raises:
        BadTimes: a tap's time is not a finite number.
    """
    ordered = tuple(sorted(taps, key=_tap_time))
    prices = (price(target, knows_left=knows_left, marks_skips=marks_skips) for target in targets)
    priced = [p for p in prices if p is not None]
    if constant_s:
        priced = [replace(p, at_us=p.at_us + microseconds(constant_s)) for p in priced]
    # A lay-back can move one kind past its neighbour; pairing wants time order, the caller slot order.
    by_time = sorted(range(len(priced)), key=lambda at: priced[at].at_us)
    touches = [touch_of(tap) for tap in ordered]
    pairs = match([priced[at] for at in by_time], touches)
    given = dict(zip(by_time, pairs, strict=True))
    outcomes = tuple(
        first_outcome(
            p.target, given[at], ordered, pocket=pocket, knows_left=knows_left, marks_skips=marks_skips
        )
        for at, p in enumerate(priced)
    )
    used = {pair for pair in pairs if pair is not None}
    times_us = [touch.at_us for touch in touches]
    strays = strays_among([priced[at] for at in by_time], times_us, used, 0, len(ordered))
    return Judgement(
        outcomes=tuple(
            spared(outcome, spans) for outcome in with_context(outcomes, pocket=pocket, constant_s=constant_s)
        ),
        strays=tuple(at for at in strays if not is_spared(spans, ordered[at].song_s)),
        taps=ordered,
        pocket_s=tuple(pocket.half_width_s(o.target.slot_s) for o in outcomes),
    )


def first_outcome(
    target: Target,
    tap_index: int | None,
    taps: Sequence[Tap],
    *,
    pocket: Pocket,
    knows_left: bool,
    marks_skips: bool = False,
) -> Outcome:
    """Return what became of one target by itself, before its neighbours are looked at."""
    kind = target.stroke.kind
    if tap_index is None or is_unheard(kind, knows_left=knows_left):
        if is_unheard(kind, knows_left=knows_left):
            verdict = Verdict.NOT_JUDGED
        elif kind is Kind.SKIP and not marks_skips:
            verdict = Verdict.KEPT_SILENT
        else:
            verdict = Verdict.MISSED
        return Outcome(target=target, tap=None, tap_index=None, placement_s=None, verdict=verdict)
    tap = taps[tap_index]
    placement_s = (microseconds(tap.song_s) - microseconds(target.song_s)) / 1e6
    if kind is Kind.SKIP and not (marks_skips and tap.hand is Hand.NONE):
        verdict = Verdict.TOUCHED
    elif tap.hand is not None and tap.hand is not kind.hand:
        verdict = Verdict.WRONG_HAND
    elif tap.string is not None and tap.string not in target.stroke.strings:
        verdict = Verdict.WRONG_STRING
    else:
        verdict = _timing(placement_s, pocket.half_width_s(target.slot_s) + tap.uncertainty_s)
    return Outcome(target=target, tap=tap, tap_index=tap_index, placement_s=placement_s, verdict=verdict)


def with_context(
    outcomes: Sequence[Outcome], *, pocket: Pocket, constant_s: float = 0.0
) -> tuple[Outcome, ...]:
    """Return outcomes with what only their neighbours can tell.

    A stroke after a skip has a rushed gap when it is early and also closer than it should be, by more than
    the pocket, to the tap before the skip: a player who is steadily early rushes nothing. A skip
    counts as kept silent only when the stroke before or after it was played: a hand that has stopped
    playing keeps every skip silent.
    """
    return tuple(
        in_context(outcomes, at, pocket=pocket, constant_s=constant_s) for at in range(len(outcomes))
    )


def in_context(outcomes: Sequence[Outcome], at: int, *, pocket: Pocket, constant_s: float = 0.0) -> Outcome:
    """Return one outcome with what its neighbours tell of it; see :func:`with_context`."""
    outcome = outcomes[at]
    if outcome.verdict is Verdict.KEPT_SILENT:
        return _kept_silent_among(outcomes, at)
    if _is_rushed(outcomes, at, pocket, microseconds(constant_s)):
        return _replaced(outcome, outcome.verdict, rushed=True)
    return outcome


def without_marks(outcomes: Sequence[Outcome]) -> tuple[Outcome, ...]:
    """Return what the hands did, where skips were to be marked on a side pad: a skip not touched was kept.

    Outcomes of takes without marks stay as they are.
    """
    plain = tuple(
        replace(o, tap=None, tap_index=None, placement_s=None, verdict=Verdict.KEPT_SILENT)
        if o.target.stroke.kind is Kind.SKIP and o.verdict not in SKIP_VERDICTS
        else o
        for o in outcomes
    )
    return tuple(
        _kept_silent_among(plain, at) if now is not was else now
        for at, (now, was) in enumerate(zip(plain, outcomes, strict=True))
    )


def _kept_silent_among(outcomes: Sequence[Outcome], at: int) -> Outcome:
    """Return a silent skip as it stands beside its neighbours: a hand that has stopped keeps none."""
    before, _ = _sounding_before(outcomes, at)
    neighbours = (None if before is None else outcomes[before], _sounding_after(outcomes, at))
    if any(o is not None and o.tap is not None for o in neighbours):
        return outcomes[at]
    return _replaced(outcomes[at], Verdict.NOT_JUDGED, rushed=False)


def _is_rushed(outcomes: Sequence[Outcome], at: int, pocket: Pocket, constant_us: int) -> bool:
    """Return whether the gap before an outcome was cut short."""
    _, after_skip = _sounding_before(outcomes, at)
    if not after_skip:
        return False
    before = _measured_from(outcomes, at, pocket, constant_us, MOST_IN_A_ROW)
    return _gap_is_short(None if before is None else outcomes[before], outcomes[at], pocket, constant_us)


def _measured_from(
    outcomes: Sequence[Outcome], at: int, pocket: Pocket, constant_us: int, in_a_row: int
) -> int | None:
    """Return the place of the stroke that the gap before an outcome is measured from, None without one.

    A stroke that was rushed itself is no place to measure from: the last one before it that was not is.
    """
    before, _ = _sounding_before(outcomes, at)
    if before is None or in_a_row == 0 or not _sounding_before(outcomes, before)[1]:
        return before
    further = _measured_from(outcomes, before, pocket, constant_us, in_a_row - 1)
    start = None if further is None else outcomes[further]
    return further if _gap_is_short(start, outcomes[before], pocket, constant_us) else before


def _gap_is_short(before: Outcome | None, outcome: Outcome, pocket: Pocket, constant_us: int) -> bool:
    if outcome.placement_s is None or outcome.tap is None:
        return False
    width = microseconds(pocket.half_width_s(outcome.target.slot_s) + outcome.tap.uncertainty_s)
    early_by = constant_us - microseconds(outcome.placement_s)
    lost = early_by
    if before is not None and before.placement_s is not None:
        lost += microseconds(before.placement_s) - constant_us
    return early_by > width and lost > width


def _sounding_before(outcomes: Sequence[Outcome], at: int) -> tuple[int | None, bool]:
    """Return the place of the last outcome before ``at`` that is no skip, and whether a skip lies between."""
    for back in range(at - 1, -1, -1):
        if outcomes[back].target.stroke.kind is not Kind.SKIP:
            return back, back < at - 1
    return None, at > 0


def _sounding_after(outcomes: Sequence[Outcome], at: int) -> Outcome | None:
    for ahead in range(at + 1, len(outcomes)):
        if outcomes[ahead].target.stroke.kind is not Kind.SKIP:
            return outcomes[ahead]
    return None


def _timing(placement_s: float, width_s: float) -> Verdict:
    placement, width = microseconds(placement_s), microseconds(width_s)
    if placement < -width:
        return Verdict.EARLY
    if placement > width:
        return Verdict.LATE
    return Verdict.IN_TIME


def _replaced(outcome: Outcome, verdict: Verdict, *, rushed: bool) -> Outcome:
    return Outcome(
        target=outcome.target,
        tap=outcome.tap,
        tap_index=outcome.tap_index,
        placement_s=outcome.placement_s,
        verdict=verdict,
        rushed_gap=rushed,
    )


def _tap_time(tap: Tap) -> float:
    if not math.isfinite(tap.song_s):
        raise BadTimes(f"a tap has the time {tap.song_s}", "give every tap a time in seconds")
    return tap.song_s
