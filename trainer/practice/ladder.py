"""Climb from a slow tempo to a goal, and only on clean passes.

A pass is clean when nine of ten strokes were as asked, no skip was touched and no gap rushed. After enough
clean passes in a row the tempo goes up by a twentieth, after as many failed ones down by as much. A
twentieth is more than the 3 % that a listener needs to hear another tempo (Drake & Botte 1993) and small
for a hand (common practice, no source). That tempo should rise on correct trials and fall after errors is in
line with Duke, Simmons & Cash 2009, who found retention to go with the share of correct trials.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.judging.take import Outcome, Verdict
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind

STEP = Fraction(21, 20)
CLEAN_SHARE = 0.9
LEAST_PASSES = 2
LEAST_STROKES = 16  # fewer say too little of nine in ten


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """Where a player stands on the way up: a value, replaced after each pass.

    Attributes:
        low, goal: the tempo never leaves these.
        bpm: the tempo asked for now, a whole number but for the ends.
        needed: passes in a row that move it.
        clean, failed: passes in a row so far; one of the two is 0.
    """

    low: Fraction
    goal: Fraction
    bpm: Fraction
    needed: int
    clean: int = 0
    failed: int = 0

    @property
    def at_goal(self) -> bool:
        """Whether the tempo asked for is the goal."""
        return self.bpm >= self.goal

    def after(self, *, clean: bool) -> Ladder:
        """Return the ladder after one more pass at its tempo."""
        counted = replace(self, clean=self.clean + 1 if clean else 0, failed=0 if clean else self.failed + 1)
        if counted.clean >= self.needed and not self.at_goal:
            return self.moved_to(min(self.goal, Fraction(math.ceil(self.bpm * STEP))))
        if counted.failed >= self.needed:
            return self.moved_to(max(self.low, Fraction(math.floor(self.bpm / STEP))))
        return counted

    def moved_to(self, bpm: Fraction) -> Ladder:
        """Return the ladder at another tempo, nothing counted yet."""
        return replace(self, bpm=bpm, clean=0, failed=0)

    def in_words(self) -> str:
        """Return the state in a few words for the screen."""
        if self.at_goal:
            return f"ladder: at the goal, {self.clean} clean"
        return f"ladder: {self.clean} of {self.needed} clean"


def ladder_for(pattern: Pattern, bpm: Fraction) -> Ladder:
    """Return the ladder of a pattern from a tempo on; one beyond either end widens it."""
    asked = sum(1 for stroke in pattern.strokes if stroke.kind is not Kind.REST)
    return Ladder(
        low=min(pattern.slow_bpm, bpm),
        goal=max(pattern.goal_bpm, bpm),
        bpm=bpm,
        needed=max(LEAST_PASSES, math.ceil(LEAST_STROKES / max(1, asked))),
    )


def is_clean(outcomes: Sequence[Outcome]) -> bool:
    """Return whether a pass was clean; one in which nothing could be judged was not."""
    judged = [o for o in outcomes if o.verdict is not Verdict.NOT_JUDGED]
    if not judged or any(o.rushed_gap or o.verdict is Verdict.TOUCHED for o in judged):
        return False
    return sum(o.verdict.is_clean for o in judged) >= CLEAN_SHARE * len(judged)
