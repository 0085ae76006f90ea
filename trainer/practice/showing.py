"""Plan a demonstration: clean stretches in turn with one fault, played by simulated hands.

A class is to see and hear the difference, so the faults are plain and grow with the slot: at a slow tempo a
fault of some milliseconds would be lost. How large a fault must be to be heard from the back row is common
practice, no source; each is several times what a listener notices (2.5 % of the interval, Friberg & Sundberg
1995).
"""

from __future__ import annotations

import enum
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trainer.judging.take import Tap
from trainer.music.excerpt import cut_chart
from trainer.music.layout import Target
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.practice.hands import Faults, simulate

LEAST_BEATS = 4  # of a stretch: shorter ones change before a listener has found the figure
STOPPED_SLOTS = 0.4  # how late the hand is after it stood still
RUSHED_SLOTS = 0.35  # how early the stroke after a skip comes
CHANGE_SLOTS = 0.35  # how late the stroke after a chord change comes
HURRY = 0.025  # share by which each interval is too short
SEED = 5


class Showing(enum.Enum):
    """What is shown; the value is the heading a class reads."""

    CLEAN = "clean"
    STOPPED = "the hand stops on the skip"
    RUSHED = "the gap is rushed"
    TOUCHED = "the skip is touched"
    LATE_CHANGE = "late after a change"
    HURRYING = "speeding up"


EXPLAINED = {
    Showing.CLEAN: "Every stroke in its place; the hand falls through the skip.",
    Showing.STOPPED: "The hand stood still where nothing sounds, so what follows is late.",
    Showing.RUSHED: "The silence was cut short: the stroke after the skip is early.",
    Showing.TOUCHED: "The nail met the strings where it should have passed them.",
    Showing.LATE_CHANGE: "The left hand looked for the new chord, and the right hand waited.",
    Showing.HURRYING: "Each beat a little shorter than the last: the click falls behind.",
}


def showings_for(pattern: Pattern) -> tuple[Showing, ...]:
    """Return what can be shown with a pattern: faults of the skip need a skip, those of a change a chart."""
    skips = any(stroke.kind is Kind.SKIP for stroke in pattern.strokes)
    changes = pattern.chart is not None and len(pattern.chart.spans) > 1
    shown = [Showing.CLEAN]
    shown += [Showing.STOPPED, Showing.RUSHED, Showing.TOUCHED] if skips else []
    shown += [Showing.LATE_CHANGE] if changes else []
    return (*shown, Showing.HURRYING)


def stretch_passes(pattern: Pattern) -> int:
    """Return how many passes are played clean, or with the fault, before the other comes."""
    return max(1, math.ceil(LEAST_BEATS / pattern.beats))


def is_faulty_stretch(showing: Showing, stretch: int) -> bool:
    """Return whether the fault is played in a stretch: clean first, then in turn."""
    return showing is not Showing.CLEAN and stretch % 2 == 1


def stretch_taps(targets: Sequence[Target], showing: Showing, pattern: Pattern) -> tuple[Tap, ...]:
    """Return what the hands play in one stretch, in order of time.

    Args:
        targets: those of the stretch, rests included.
        showing: the fault, or CLEAN.
        pattern: for the places of its chord changes.
    """
    right = [target for target in targets if target.stroke.hand is not Hand.LEFT]
    if not right:
        return ()
    slot_s = right[0].slot_s
    rng = np.random.default_rng(SEED)
    return simulate(right, _faults(showing, slot_s), rng, chart=pattern.chart).taps


def _faults(showing: Showing, slot_s: float) -> Faults:
    if showing is Showing.STOPPED:
        return Faults(rush_gap_s=-STOPPED_SLOTS * slot_s)
    if showing is Showing.RUSHED:
        return Faults(rush_gap_s=RUSHED_SLOTS * slot_s)
    if showing is Showing.TOUCHED:
        return Faults(touch_skips=1.0)
    if showing is Showing.LATE_CHANGE:
        return Faults(late_change_s=CHANGE_SLOTS * slot_s)
    if showing is Showing.HURRYING:
        # Without correction the lead adds up, as it does when nobody listens to the click.
        return Faults(drift=-HURRY, correction=0.0)
    return Faults()


def beginning_at(pattern: Pattern, bar: int) -> Pattern:
    """Return a pattern that goes round from another of its bars, so that one can go on from there."""
    at = bar % len(pattern.bars)
    if at == 0:
        return pattern
    chart = pattern.chart
    if chart is not None:
        beat = at * pattern.meter.beats
        before, after = cut_chart(chart, 0, beat), cut_chart(chart, beat, chart.beats)
        chart = replace(chart, spans=after.spans + before.spans)
    return replace(pattern, bars=pattern.bars[at:] + pattern.bars[:at], parts=(), chart=chart)
