"""Say in a clause what was found, and in a sentence why a step helps: the words of the step after a take."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

from trainer.judging.advice import Finding
from trainer.judging.wording import Fault

WHY: Mapping[Fault, str] = {
    Fault.MISSED: "A fifth slower there is time for every stroke; keep the hand falling.",
    Fault.MISSED_KIND: "Slower there is time for it; let the hand fall and rise all the way.",
    Fault.WRONG_HAND: 'Say "nail" and "thumb" aloud, a tenth slower.',
    Fault.TOUCHED_SKIP: "Let the hand fall all the way, clear of the strings; only what follows sounds.",
    Fault.STRAY: "A tenth slower, each move on purpose.",
    Fault.RUSHED_GAP: "Count the skip aloud; the silence has a length too.",
    Fault.DRAGGED_GAP: "Let the hand move through the skip as if it struck.",
    Fault.LATE_AFTER_CHANGE: "The left hand moves sooner; the right goes on.",
    Fault.LATE_CHANGE: "The left hand moves sooner; the right goes on.",
    Fault.EARLY_AFTER_CHANGE: "Let the old chord ring to its end.",
    Fault.UNEVEN: "A tenth slower the pocket is wide enough to find it.",
    Fault.KIND_EARLY: "A tenth slower; listen for that one stroke.",
    Fault.KIND_LATE: "A tenth slower; listen for that one stroke.",
    Fault.WRONG_STRING: "Look where the stroke lands, not where it was.",
    Fault.DRIFT_AHEAD: "Count every beat aloud with the click.",
    Fault.DRIFT_BEHIND: "A tenth slower there is breath to the end.",
    Fault.AHEAD: "Wait for the click; most people tap ahead of it.",
    Fault.BEHIND: "Tap with the click, not after it.",
}
"""Why the step after each fault helps."""


def finding_clause(finding: Finding) -> str:
    """Return what was found, in a clause."""
    ms = f"{abs(finding.size_s or 0.0) * 1000:.0f} ms"
    kind = finding.kind.value if finding.kind is not None else "stroke"
    of = f"{finding.hits} of {finding.n}"
    words: Mapping[Fault, str] = {
        Fault.MISSED: f"{of} strokes did not sound",
        Fault.MISSED_KIND: f"{of} {kind} strokes did not sound",
        Fault.WRONG_HAND: f"{of} strokes came from the other side of the hand",
        Fault.TOUCHED_SKIP: f"{of} skips were touched",
        Fault.STRAY: f"{finding.hits} taps fell where none was asked",
        Fault.RUSHED_GAP: f"the stroke after the skip comes {ms} early",
        Fault.DRAGGED_GAP: f"the stroke after the skip comes {ms} late",
        Fault.LATE_AFTER_CHANGE: f"after a chord change you come in {ms} late",
        Fault.LATE_CHANGE: f"the change {finding.change} comes {ms} late",
        Fault.EARLY_AFTER_CHANGE: f"after a chord change you come in {ms} early",
        Fault.UNEVEN: f"your strokes scatter by {ms}",
        Fault.KIND_EARLY: f"your {kind} comes {ms} before the others",
        Fault.KIND_LATE: f"your {kind} comes {ms} after the others",
        Fault.WRONG_STRING: f"{of} strokes met another string",
        Fault.DRIFT_AHEAD: f"from first to last stroke you move {ms} ahead",
        Fault.DRIFT_BEHIND: f"from first to last stroke you move {ms} behind",
        Fault.AHEAD: f"you sit {ms} ahead of the click",
        Fault.BEHIND: f"you sit {ms} behind the click",
    }
    return words[finding.fault]


def tempo_words(bpm: Fraction) -> str:
    """Return a tempo with at most one decimal.

    >>> tempo_words(Fraction(53)), tempo_words(Fraction(105, 2))
    ('53', '52.5')
    """
    return f"{float(bpm):.1f}".removesuffix(".0")


def again_words(bpm: Fraction) -> str:
    """Return the words of playing the same at a tempo."""
    return f"Again at {tempo_words(bpm)}"
