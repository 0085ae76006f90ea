"""Gather what was played in a lesson from the takes of its day: for each step, and for each who played."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from trainer.practice.classroom import OF_CLASS
from trainer.practice.lesson import Lesson, LessonStep
from trainer.practice.stored_take import StoredTake
from trainer.practice.tally import Tally, tally_of

NEAR_TEMPO = 0.03  # listeners hear no other tempo below some 3 %: Drake & Botte 1993


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonResults:
    """What a lesson came to.

    Attributes:
        lesson: the lesson.
        day: as a proleptic ordinal.
        players: who played, in order; as the class calls them.
        tallies: by the step's place and the player.
    """

    lesson: Lesson
    day: int
    players: tuple[str, ...]
    tallies: Mapping[tuple[int, str], Tally]

    def of(self, step: int, player: str) -> Tally | None:
        """Return what a player's turns of a step came to; None for one who had none."""
        return self.tallies.get((step, player))


def lesson_results(
    lesson: Lesson, day: int, takes: Iterable[StoredTake], players: Sequence[str] = ()
) -> LessonResults:
    """Return what a lesson came to.

    Args:
        takes: of any patterns and days; those that are of a step, of the day, and count are taken.
        players: who stands first, in this order; others who played come after them.
    """
    found: dict[tuple[int, str], list[StoredTake]] = {}
    for take in takes:
        if take.day != day or not take.counts or not take.asked:
            continue
        player = name_of(take.player)
        for at, step in enumerate(lesson.steps):
            if is_of_step(take, step):
                found.setdefault((at, player), []).append(take)
    others = sorted({player for _, player in found} - set(players), key=str.casefold)
    return LessonResults(
        lesson=lesson,
        day=day,
        players=(*players, *others),
        tallies={key: tally_of(each) for key, each in found.items()},
    )


def is_of_step(take: StoredTake, step: LessonStep) -> bool:
    """Return whether a take is of a step: its pattern, and about its tempo throughout."""
    if take.pattern.name != step.pattern.name:
        return False
    return all(abs(span.bpm / step.bpm - 1) <= NEAR_TEMPO for span in take.timeline.spans)


def name_of(player: str) -> str:
    """Return a player's name as the class calls them."""
    return player.removesuffix(OF_CLASS)
