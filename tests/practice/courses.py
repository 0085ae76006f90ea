"""A short course and what was played of it."""

import dataclasses
from fractions import Fraction

from tests.judging.helpers import BASIC_FIGURE, pattern_of
from trainer.music.pattern import Pattern
from trainer.practice.course import Rung


def named(name: str, *needs: str, slow: int = 40, goal: int = 120) -> Pattern:
    return dataclasses.replace(
        pattern_of(BASIC_FIGURE),
        name=name,
        title=name.capitalize(),
        needs=needs,
        slow_bpm=Fraction(slow),
        goal_bpm=Fraction(goal),
    )


def rung(name: str, bpm: int, order: int, *, clean: bool = True, day: int = 1) -> Rung:
    return Rung(pattern=name, bpm=Fraction(bpm), clean=clean, day=day, order=order)


COURSE = (named("one"), named("two", "one"), named("three", "one", "two"))
