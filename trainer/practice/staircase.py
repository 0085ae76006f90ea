"""Move up and down so that the level settles where a stated share of trials is clean.

Clean makes it harder (up), not clean easier (down). Steps are logarithms of a ratio, so a step means the same
at any level. Two rules:

- In a row (transformed up-down, Levitt 1971, JASA 49:467-477, from memory): up after n clean in a row, down
  after one that was not. It settles where up and down are equally likely, p**n = 1/2: at 0.7937 for n = 3.
- Weighted (Kaernbach 1991, Percept. Psychophys. 49:227-229): each trial moves it, and a step down is
  p/(1 - p) times as long as one up, so that up * p = down * (1 - p): four times for p = 0.8.

At first both search: steps are large, halved at every second turn down to the least, and one clean trial is
enough for a step up, so that an easy start costs no patience. After four turns the rule proper holds. The
place is estimated from the middles between the latest turns up and down (the mid-run estimate of Levitt
1971). Both points hold for small steps and for a level that is free to move: an end that holds the level
back moves them, and long steps down, wide against the way from mostly clean to seldom clean, leave the mean
of the weighted rule some 4 % low (``tests/benchmarks/ladder_study.py``): on the safe side.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass, replace
from typing import Protocol

from trainer.judging.statistics import student_quantile

LEAST_LOG_STEP = math.log(1.03)  # Drake & Botte 1993: less is not heard as another tempo
FIRST_LOG_STEP = math.log(1.08)
FIRST_WEIGHTED_LOG_STEP = math.log(1.05)  # one down is four of them: a fall of 18 %
IN_A_ROW = 3
WEIGHTED_SHARE = 0.8
EARLY_TURNS = 4  # made while it searched; they say little
LEAST_TURNS = 6
LATEST_TURNS = 12  # a player who learns while playing has left the older ones behind
CONFIDENCE = 0.95
CORRELATION = 0.5  # of one middle with the next, about, in simulated staircases: each begins where one ended


class UpDown(Protocol):
    """What a trial does to the level: a value, replaced after each trial."""

    @property
    def moved(self) -> float:
        """The step that the last trial asks for: positive up, negative down, 0 for none."""

    @property
    def up_step(self) -> float:
        """The length of the next step up."""

    @property
    def target(self) -> float:
        """The share of clean trials at which it settles."""

    def after(self, *, clean: bool) -> UpDown:
        """Return the rule after one more trial."""

    def turned(self) -> UpDown:
        """Return the rule after a turn: with a smaller step after every second one."""

    def in_words(self) -> str:
        """Return in a few words how far the next step up is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InARow:
    """Up after some clean trials in a row, down after one that was not, by steps of one length.

    Attributes:
        needed: clean trials in a row for a step up.
        step: length of the next step; least_step: it is never halved below this.
        run: clean trials in a row so far.
        turns: turns made so far; it searches until there are four.
        moved: what the last trial asks for.
    """

    needed: int = IN_A_ROW
    step: float = FIRST_LOG_STEP
    least_step: float = LEAST_LOG_STEP
    run: int = 0
    turns: int = 0
    moved: float = 0.0

    @property
    def up_step(self) -> float:
        """The length of the next step up."""
        return self.step

    @property
    def target(self) -> float:
        """Where p**n = 1/2."""
        return float(0.5 ** (1 / self.needed))

    def after(self, *, clean: bool) -> InARow:
        """Return the rule after one more trial."""
        if not clean:
            return replace(self, run=0, moved=-self.step)
        if self.run + 1 >= (self.needed if self.turns >= EARLY_TURNS else 1):
            return replace(self, run=0, moved=self.step)
        return replace(self, run=self.run + 1, moved=0.0)

    def turned(self) -> InARow:
        """Return the rule after a turn: with half its step, or the least, after every second one."""
        return replace(self, step=_after_turn(self.step, self.turns, self.least_step), turns=self.turns + 1)

    def in_words(self) -> str:
        """Return the trials in a row so far."""
        return f"{self.run} of {self.needed} clean"


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighted:
    """A short step up after each clean trial, a long one down after each that was not.

    Attributes:
        target: the share of clean trials at which it settles.
        step: length of the next step up; least_step: it is never halved below this.
        turns: turns made so far.
        moved: what the last trial asks for.
    """

    target: float = WEIGHTED_SHARE
    step: float = FIRST_WEIGHTED_LOG_STEP
    least_step: float = LEAST_LOG_STEP
    turns: int = 0
    moved: float = 0.0

    @property
    def up_step(self) -> float:
        """The length of the next step up."""
        return self.step

    def after(self, *, clean: bool) -> Weighted:
        """Return the rule after one more trial."""
        down = self.step * self.target / (1 - self.target)
        return replace(self, moved=self.step if clean else -down)

    def turned(self) -> Weighted:
        """Return the rule after a turn: with half its step, or the least, after every second one."""
        return replace(self, step=_after_turn(self.step, self.turns, self.least_step), turns=self.turns + 1)

    def in_words(self) -> str:
        """Return what it waits for."""
        return "each clean pass a step"


def _after_turn(step: float, turns_before: int, least: float) -> float:
    return max(least, step / 2) if turns_before % 2 else step


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """Where a staircase turned round.

    Attributes:
        at: the latest levels at which it turned, in order.
        seen: how many there were altogether.
        way: 1 after a step up, -1 after one down, 0 before the first.
    """

    at: tuple[float, ...] = ()
    seen: int = 0
    way: int = 0

    def after(self, moved: int, level: float) -> Turns:
        """Return the turns after a step: 1 up, -1 down, 0 none; ``level`` is where the step began."""
        if moved in (0, self.way):
            return self
        if self.way == 0:
            return replace(self, way=moved)
        return Turns(at=(*self.at, level)[-LATEST_TURNS:], seen=self.seen + 1, way=moved)


NO_TURNS = Turns()


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Where a staircase has settled.

    Attributes:
        bpm: the level.
        low_bpm, high_bpm: where it lies with some certainty: 19 times of 20 for a player whose clean passes
            end within a few beats a minute, 8 of 10 for one who loses them little by little
            (``tests/benchmarks/ladder_study.py``).
        turns: how many it rests on.
    """

    bpm: float
    low_bpm: float
    high_bpm: float
    turns: int

    def in_words(self) -> str:
        """Return it in whole beats a minute."""
        return f"about {self.bpm:.0f} ({self.low_bpm:.0f} to {self.high_bpm:.0f})"


def estimate_from(turns: Turns) -> Estimate | None:
    """Return the geometric mean of the latest turns in pairs, None with too few.

    A pair is a turn at the top and one at the bottom; the spread of the pairs' middles gives the interval:
    Student's t, wider by sqrt((1 + r)/(1 - r)) because middles hang together with correlation r. The turns of
    the search are left out.
    """
    early = max(0, len(turns.at) - max(0, turns.seen - EARLY_TURNS))
    late = turns.at[early:]
    late = late[len(late) % 2 :]
    if len(late) < LEAST_TURNS:
        return None
    logs = [math.log(level) for level in late]
    middles = [(a + b) / 2 for a, b in zip(logs[::2], logs[1::2], strict=True)]
    middle = statistics.fmean(middles)
    error = statistics.stdev(middles) / math.sqrt(len(middles))
    widened = math.sqrt((1 + CORRELATION) / (1 - CORRELATION))
    half = student_quantile((1 + CONFIDENCE) / 2, len(middles) - 1) * widened * error
    return Estimate(
        bpm=math.exp(middle),
        low_bpm=math.exp(middle - half),
        high_bpm=math.exp(middle + half),
        turns=len(late),
    )
