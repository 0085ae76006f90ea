"""Say in a few words how a slot of the pattern was played over a take."""

from __future__ import annotations

from trainer.judging.statistics import SlotSummary
from trainer.judging.take import Verdict
from trainer.music.strokes import Kind


def is_marked(slot: SlotSummary) -> bool:
    """Return whether a skip was to be marked, and so has places as a stroke has."""
    marks = (Verdict.IN_TIME, Verdict.EARLY, Verdict.LATE, Verdict.MISSED)
    return any(verdict in marks and n for verdict, n in slot.counts)


def placement_words(slot: SlotSummary) -> str:
    """Return how a slot was played: its mean placement with the interval, or what else became of it."""
    counts = dict(slot.counts)
    if slot.stroke.kind is Kind.SKIP and not is_marked(slot):
        return f"silent {counts.get(Verdict.KEPT_SILENT, 0)} of {slot.n}"
    if counts.get(Verdict.NOT_JUDGED) == slot.n:
        return "not heard"
    if slot.mean_s is None:
        return "not played"
    ms = round(slot.mean_s * 1000)
    words = "0 ms" if ms == 0 else f"{abs(ms)} ms {'early' if ms < 0 else 'late'}"
    if slot.half_interval_s is not None:
        words += f" ± {round(slot.half_interval_s * 1000)}"
    return words
