"""Plan a demonstration: stretches with one fault in turn with clean ones, played by simulated hands.

A class is to see and hear the difference, so the faults are plain and grow with the slot: at a slow tempo a
fault of some milliseconds would be lost. How large a fault must be to be heard from the back row is common
practice, no source; each is several times what a listener notices (2.5 % of the interval, Friberg & Sundberg
1995).
"""

from __future__ import annotations

import enum
import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, zip_longest

import numpy as np

from trainer.judging.take import Outcome, Tap
from trainer.judging.verdicts import judge
from trainer.music.layout import Feel, Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate

LEAST_BEATS = 4  # of a stretch: shorter ones change before a listener has found the figure
STOPPED_SLOTS = 0.4  # how late the hand is after it stood still
RUSHED_SLOTS = 0.35  # how early the stroke after a skip comes
CHANGE_SLOTS = 0.35  # how late the stroke after a chord change comes
MOVES_ON_SLOTS = 0.6  # before the stroke after it, the hand that stood still moves on
TOUCH_SLOTS = 0.5  # either side of the skip, in which the hand goes down to the strings and comes back
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


SKIP_FAULTS = (Showing.STOPPED, Showing.RUSHED, Showing.TOUCHED)

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
    shown = [Showing.CLEAN, *(SKIP_FAULTS if skips else ())]
    shown += [Showing.LATE_CHANGE] if changes else []
    return (*shown, Showing.HURRYING)


def stretch_passes(pattern: Pattern) -> int:
    """Return how many passes are played clean, or with the fault, before the other comes."""
    return max(1, math.ceil(LEAST_BEATS / pattern.beats))


def is_faulty_stretch(showing: Showing, stretch: int, *, is_clean_first: bool = False) -> bool:
    """Return whether the fault is played in a stretch: in turn, and first, for it is what was asked for.

    Args:
        is_clean_first: where one goes on in a clean stretch.
    """
    return showing is not Showing.CLEAN and (stretch % 2 == 1) == is_clean_first


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


def shown_outcomes(pattern: Pattern, showing: Showing, bpm: Fraction, feel: Feel) -> tuple[Outcome, ...]:
    """Return what the judge makes of a pass as the hands play it, late in a stretch: there a fault is plain.

    Played before anybody hears it, so that clean and faulty stand side by side from the first moment on.
    """
    passes = max(2, stretch_passes(pattern))
    targets = lay_out(pattern, Timeline.steady(bpm), passes=passes, feel=feel)
    judged = judge(targets, stretch_taps(targets, showing, pattern))
    return tuple(o for o in judged.outcomes if o.target.pass_index == passes - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownHand:
    """Where the hand is.

    Attributes:
        path_s: the second of the path where it is: later than now when it is ahead, earlier when it waits.
        low: how far it has gone on from a skip's turn down to the strings, 0 to 1.
    """

    path_s: float
    low: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HandLine:
    """How the hand moves through a stretch: it passes each stroke when its tap sounds.

    Attributes:
        hand_s: seconds, ascending, at which the hand is at ``path_s`` of the path.
        touches: the second and the slot, in seconds, of each skip on which it goes on down to the strings.
    """

    hand_s: tuple[float, ...]
    path_s: tuple[float, ...]
    touches: tuple[tuple[float, float], ...] = ()

    def holds(self, song_s: float) -> bool:
        """Return whether a moment lies in the stretch."""
        return bool(self.hand_s) and self.hand_s[0] <= song_s <= self.hand_s[-1]

    def at(self, song_s: float) -> ShownHand:
        """Return where the hand is at a moment; outside of the stretch it is where the path is."""
        if not self.holds(song_s):
            return ShownHand(path_s=song_s)
        near = (1 - abs(song_s - at) / (TOUCH_SLOTS * slot_s) for at, slot_s in self.touches)
        path_s = float(np.interp(song_s, self.hand_s, self.path_s))
        return ShownHand(path_s=path_s, low=max(0.0, *near, 0.0))


def hand_line(targets: Sequence[Target], taps: Sequence[Tap], showing: Showing) -> HandLine:
    """Return how the hand moves that plays these taps.

    A hand that stops on the skip stands still there, and makes up for most of it on its way to the next
    stroke; one that touches the skip goes on down to the strings.

    Args:
        targets: of a stretch, in order; ``taps`` those of the hands for them.
    """
    outcomes = judge(targets, taps).outcomes
    knots: list[tuple[float, float]] = []
    touches: list[tuple[float, float]] = []
    for outcome, after in zip_longest(outcomes, outcomes[1:]):
        target = outcome.target
        if target.stroke.kind is Kind.SKIP and showing in SKIP_FAULTS:
            knots.append((target.song_s, target.song_s))
            if showing is Showing.STOPPED and after is not None and after.tap is not None:
                knots.append((after.tap.song_s - MOVES_ON_SLOTS * target.slot_s, target.song_s))
            if showing is Showing.TOUCHED:
                touches.append((target.song_s, target.slot_s))
        elif outcome.tap is not None:
            knots.append((outcome.tap.song_s, target.song_s))
    rising = knots[:1] + [b for a, b in pairwise(knots) if b[0] > a[0]]
    return HandLine(
        hand_s=tuple(at for at, _ in rising), path_s=tuple(at for _, at in rising), touches=tuple(touches)
    )
