"""Climb from a slow tempo to a goal, and only on clean passes: three ways by name, one interface.

``passes.py`` says what a clean pass is. A rung is never less than 3 % from the next, because less is not
heard (Drake & Botte 1993), and never more than a tenth faster, which is as much as a hand takes at once
(common practice, no source). That tempo should rise on correct trials and fall after errors is in line with
Duke, Simmons & Cash 2009, who found retention to go with the share of correct trials.

- plain: up by a twentieth after enough clean passes in a row, down after as many failed.
- homing in: a staircase that settles where about four passes of five are clean (``staircase.py``).
- alternating: a turn at the slow tempo, a turn at the goal, and so on; the slow one rises. Practised so as a
  matter of course; Henley 2001 (attribution from memory) found a steady rise and this both more exact than
  the goal tempo alone.
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Protocol

from trainer.music.named import named
from trainer.music.pattern import Pattern
from trainer.practice.passes import PassPlayed, passes_needed, strokes_asked
from trainer.practice.staircase import NO_TURNS, InARow, Turns, UpDown, Weighted, estimate_from

LEAST_STEP = Fraction(103, 100)  # Drake & Botte 1993: a tempo is heard to differ from about 3 % on
LARGEST_STEP = Fraction(11, 10)  # faster at once; common practice, no source
LARGEST_FALL = Fraction(5, 4)  # slower at once; more would be another exercise, common practice, no source
STEP = Fraction(21, 20)
MOST_LETTERS = 68  # of the words beside the sheet; with the largest type they leave a third of the row
LONG_PASS = 48  # strokes; three such passes in a row take half a minute


class LadderKind(enum.Enum):
    """The ladders that can be chosen; the value is the name shown and kept."""

    OFF = "off"
    PLAIN = "plain"
    HOMING_IN = "homing in"
    ALTERNATING = "alternating"

    @classmethod
    def named(cls, name: str) -> LadderKind:
        """Return a kind of ladder by its name.

        Raises:
            BadSettings: no ladder is called so.
        """
        return named(cls, name, "the ladder")


class Ladder(Protocol):
    """Where a player stands on the way up: a value, replaced after each pass."""

    @property
    def bpm(self) -> Fraction:
        """The tempo asked for now."""

    @property
    def goal(self) -> Fraction:
        """The fastest it leads to."""

    @property
    def next_time_bpm(self) -> Fraction:
        """The tempo to begin with another time."""

    def after(self, played: PassPlayed) -> Ladder:
        """Return the ladder after one more pass; one at another tempo than its own changes nothing."""

    def in_words(self) -> str:
        """Return the state in a few words for the screen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlainLadder:
    """Up after enough clean passes in a row, down after as many failed.

    Attributes:
        low, goal: the tempo never leaves these.
        bpm: the tempo asked for now, a whole number but for the ends.
        needed: passes in a row that move it.
        clean, failed: passes in a row so far; one of the two is 0.
        why: what was not clean in the last pass.
    """

    low: Fraction
    goal: Fraction
    bpm: Fraction
    needed: int
    clean: int = 0
    failed: int = 0
    why: str = ""

    @property
    def next_time_bpm(self) -> Fraction:
        """The tempo to begin with another time: where it stands."""
        return self.bpm

    def after(self, played: PassPlayed) -> PlainLadder:
        """Return the ladder after one more pass."""
        if played.bpm != self.bpm:
            return self
        counted = replace(
            self,
            clean=self.clean + 1 if played.clean else 0,
            failed=0 if played.clean else self.failed + 1,
            why=played.why,
        )
        if counted.clean >= self.needed and not is_at_goal(self):
            return replace(counted, bpm=min(self.goal, Fraction(math.ceil(self.bpm * STEP))), clean=0)
        if counted.failed >= self.needed:
            return replace(counted, bpm=max(self.low, Fraction(math.floor(self.bpm / STEP))), failed=0)
        return counted

    def in_words(self) -> str:
        """Return the state in a few words for the screen."""
        if is_at_goal(self):
            return _with_why(f"ladder: at the goal, {self.clean} clean", self.why)
        return _with_why(f"ladder: {self.clean} of {self.needed} clean", self.why)


@dataclass(frozen=True, slots=True, kw_only=True)
class HomingLadder:
    """A staircase in log tempo that settles around the fastest tempo that is mostly clean.

    Attributes:
        low, goal: the tempo never leaves these.
        bpm: the tempo asked for now, a whole number but for the ends.
        rule: what a pass does to it, and the size of the next step.
        turns: the tempi at which it turned round, in order.
        why: what was not clean in the last pass.
    """

    low: Fraction
    goal: Fraction
    bpm: Fraction
    rule: UpDown
    turns: Turns = NO_TURNS
    why: str = ""

    @property
    def next_time_bpm(self) -> Fraction:
        """The tempo to begin with another time: the estimate in whole beats, else where it stands."""
        estimate = estimate_from(self.turns)
        if estimate is None:
            return self.bpm
        return min(max(Fraction(round(estimate.bpm)), self.low), self.goal)

    def after(self, played: PassPlayed) -> HomingLadder:
        """Return the ladder after one more pass."""
        if played.bpm != self.bpm:
            return self
        rule = self.rule.after(clean=played.clean)
        bpm = self._moved(rule.moved)
        moved = (bpm > self.bpm) - (bpm < self.bpm)
        # A step that an end of the ladder holds back is no step, and so no turn either.
        turns = self.turns.after(moved, float(self.bpm))
        if len(turns.at) > len(self.turns.at):
            rule = rule.turned()
        return replace(self, bpm=bpm, rule=rule, turns=turns, why=played.why)

    def _moved(self, log_step: float) -> Fraction:
        """Return the tempo a step away in whole beats a minute, no step too small to be heard."""
        if log_step > 0:
            wished = Fraction(round(float(self.bpm) * math.exp(log_step)))
            heard = Fraction(math.ceil(self.bpm * LEAST_STEP))
            return min(self.goal, max(wished, heard))
        if log_step < 0:
            # As long as the way up that it weighs against, which whole beats may have lengthened.
            up = self._moved(self.rule.up_step)
            made = math.log(up / self.bpm) if up > self.bpm and up < self.goal else self.rule.up_step
            fall = math.exp(min(math.log(LARGEST_FALL), -log_step * max(1.0, made / self.rule.up_step)))
            wished = Fraction(round(float(self.bpm) / fall))
            return max(self.low, min(wished, Fraction(math.floor(self.bpm / LEAST_STEP))))
        return self.bpm

    def in_words(self) -> str:
        """Return the state in a few words for the screen: the estimate once there is one."""
        estimate = estimate_from(self.turns)
        if is_at_goal(self):
            return _with_why("homing in: at the goal", self.why)
        if estimate is None:
            return _with_why(f"homing in: {self.rule.in_words()}", self.why)
        return _with_why(f"homing in: {estimate.in_words()}", self.why)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternatingLadder:
    """A turn at a slow tempo, a turn at the goal; the slow one rises after a turn that was clean throughout.

    The way from the slow tempo to the goal is no step of the ladder: to feel the goal is what it is for.

    Attributes:
        low, goal: the slow tempo never leaves these.
        slow: the slow tempo now.
        turn: passes of a turn.
        fast: whether this turn is at the goal.
        played, clean: passes of this turn so far, and those of them that were clean.
        why: what was not clean in the last pass.
    """

    low: Fraction
    goal: Fraction
    slow: Fraction
    turn: int
    fast: bool = False
    played: int = 0
    clean: int = 0
    why: str = ""

    @property
    def bpm(self) -> Fraction:
        """The tempo asked for now."""
        return self.goal if self.fast else self.slow

    @property
    def next_time_bpm(self) -> Fraction:
        """The tempo to begin with another time: the slow one."""
        return self.slow

    def after(self, played: PassPlayed) -> AlternatingLadder:
        """Return the ladder after one more pass."""
        if played.bpm != self.bpm:
            return self
        counted = replace(self, played=self.played + 1, clean=self.clean + bool(played.clean), why=played.why)
        if counted.played < self.turn:
            return counted
        slow = self.slow
        if not self.fast and counted.clean == self.turn:
            slow = min(self.goal, Fraction(math.ceil(slow * STEP)))
        elif not self.fast and counted.clean == 0:
            slow = max(self.low, Fraction(math.floor(slow / STEP)))
        # With the slow tempo at the goal there is nothing left to alternate with.
        return replace(counted, slow=slow, fast=not self.fast and slow < self.goal, played=0, clean=0)

    def in_words(self) -> str:
        """Return the state in a few words for the screen."""
        which = "goal" if is_at_goal(self) else "slow"
        return _with_why(f"{which} turn: {self.clean} of {self.turn} clean", self.why)


def ladder_for(kind: LadderKind, pattern: Pattern, bpm: Fraction) -> Ladder | None:
    """Return the ladder of a pattern from a tempo on, None for no ladder.

    It leads to the first goal; begun at that or faster, to the playing tempo. A tempo beyond either of the
    pattern's own widens the ladder. The staircase of a long pattern moves after
    every pass (Kaernbach's rule), that of a short one after three in a row (Levitt's).
    """
    aim = pattern.goal_bpm if bpm < pattern.goal_bpm else pattern.fastest_bpm
    low, goal = min(pattern.slow_bpm, bpm), max(aim, bpm)
    needed = passes_needed(pattern)
    if kind is LadderKind.PLAIN:
        return PlainLadder(low=low, goal=goal, bpm=bpm, needed=needed)
    if kind is LadderKind.HOMING_IN:
        rule: UpDown = Weighted() if strokes_asked(pattern) >= LONG_PASS else InARow()
        return HomingLadder(low=low, goal=goal, bpm=bpm, rule=rule)
    if kind is LadderKind.ALTERNATING:
        return AlternatingLadder(low=low, goal=goal, slow=bpm, turn=needed)
    return None


def is_at_goal(ladder: Ladder) -> bool:
    """Return whether the tempo asked for is the goal."""
    return ladder.bpm >= ladder.goal


def _with_why(words: str, why: str) -> str:
    """Return the words with what was wrong in the last pass: the worst of it where all is too long."""
    if not why:
        return words
    whole = f"{words}; last: {why}"
    return whole if len(whole) <= MOST_LETTERS else f"{words}; last: {why.split(', ')[0]}"
