"""Hold a lesson: steps in order, each bars of a pattern at a tempo for some minutes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.layout import MOST_PASSES
from trainer.music.pattern import Pattern
from trainer.music.tempo import seconds_of_pass

USUAL_MINUTES = Fraction(3)


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonStep:
    """One step.

    Attributes:
        pattern: what is played: a whole pattern, or bars cut out of one.
        bpm: beats a minute.
        minutes: how long the step is to take, all turns together.
        passes: of each turn; None for as many as the minutes allow.
        words: what the teacher wants to say; may be empty.
    """

    pattern: Pattern
    bpm: Fraction
    minutes: Fraction = USUAL_MINUTES
    passes: int | None = None
    words: str = ""

    def passes_for(self, players: int) -> int:
        """Return the passes of one turn when so many share the minutes, at least one."""
        if self.passes is not None:
            return self.passes
        turn_s = float(self.minutes) * 60 / max(1, players)
        return min(max(1, math.floor(turn_s / seconds_of_pass(self.pattern, self.bpm))), MOST_PASSES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lesson:
    """A lesson with at least one step."""

    title: str
    steps: tuple[LessonStep, ...]

    @property
    def minutes(self) -> Fraction:
        """How long all steps are to take."""
        return sum((step.minutes for step in self.steps), Fraction(0))
