"""Say in words what a drill came to, beside the numbers of its rows."""

from __future__ import annotations

from trainer.app.drill_result import LEAST_SWING, DrillResult
from trainer.app.playback import BEFORE_S
from trainer.judging.spared import is_spared
from trainer.judging.two_level import TwoLevels

MOST_PLACES = 4

SURE = 0.05
LEAST_DRIFT_S = 0.006  # a listener notices no less: Friberg & Sundberg 1995


def besides_words(result: DrillResult) -> tuple[str, ...]:
    """Say where the sound stalled, what chord changes cost, how time was kept in silence, and how a banjo's
    strokes were placed.
    """
    found = [words] if (words := spared_words(result)) else []
    changes = result.changes
    if changes is not None and changes.difference is not None:
        size_ms, half_ms = changes.difference.size * 1000, changes.difference.half_interval * 1000
        way = "later" if size_ms >= 0 else "earlier"
        words = f"After a change {abs(size_ms):.0f} ms {way} than inside a chord (±{half_ms:.0f})."
        worst = changes.worst
        if worst is not None and worst.difference is not None and size_ms > 0:
            worst_ms, sure_ms = worst.difference.size * 1000, worst.difference.half_interval * 1000
            words += f" Most: {worst.change.words}, {worst_ms:.0f} ms (±{sure_ms:.0f})."
        found.append(words)
    if result.in_silence:
        found.append(result.in_silence)
    if result.placed_words:
        found.append(f"{result.placed_words[:1].upper()}{result.placed_words[1:]}.")
    return tuple(found)


def spared_words(result: DrillResult) -> str:
    """Say which strokes were not judged because the sound stalled beside them; empty when it did not."""
    outcomes = result.judgement.outcomes
    begins_s = min((o.target.song_s for o in outcomes), default=0.0)
    spans = [span for span in result.drill.spans if span[1] >= begins_s]  # no stroke was there before
    if not spans:
        return ""
    spared = [o for o in outcomes if is_spared(spans, o.target.song_s)]
    seconds = tuple(dict.fromkeys(f"{max(0.0, first_s + BEFORE_S):.0f}" for first_s, _last_s in spans))
    places = ", ".join(seconds[:MOST_PLACES])
    more = "…" if len(seconds) > MOST_PLACES else ""
    strokes = "1 stroke" if len(spared) == 1 else f"{len(spared)} strokes"
    what = "Sound was lost on its way in" if result.placed_words else "The sound stalled"
    return f"{what} at second {places}{more}: {strokes} of {len(outcomes)} beside it not judged."


def standing_words(result: DrillResult) -> str:
    """Say where the player sits, how steadily, whether that moves, and how much the up slots swing."""
    placed = result.summary.placement
    if placed.mean_s is None or placed.spread_s is None:
        return ""
    mean_ms = round(placed.mean_s * 1000)
    where = f"{abs(mean_ms)} ms {'late' if mean_ms > 0 else 'early'}" if mean_ms else "on the click"
    words = [f"On average {where}", f"spread {placed.spread_s * 1000:.0f} ms"]
    drift = result.drift
    if drift is not None and drift.probability < SURE and abs(drift.moved_s) >= LEAST_DRIFT_S:
        way = "later" if drift.moved_s > 0 else "earlier"
        words.append(f"drifting {way} by {abs(drift.moved_s) * 1000:.0f} ms")
    elif drift is not None:
        words.append("no drift")
    if (
        result.swing is not None
        and abs(result.swing.ratio - 1) >= LEAST_SWING
        and not result.swing.is_straight
    ):
        words.append(f"swing {result.swing.ratio:.2f}")
    if isinstance(result.levels, TwoLevels):
        clock, motor = result.levels.clock_sd_s * 1000, result.levels.motor_sd_s * 1000
        words.append(f"without the click: inner clock {clock:.0f} ms, hand {motor:.0f} ms")
    elif result.levels is not None:
        words.append("without the click: clock and hand cannot be told apart here")
    return ", ".join(words) + "."
