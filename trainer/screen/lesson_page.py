"""Lay out what a lesson came to: the class on one page, then each who played on one of their own."""

from __future__ import annotations

from trainer.practice.lesson import Lesson, LessonStep
from trainer.practice.lesson_results import LessonResults
from trainer.screen.printed import Paper, PrintedPage
from trainer.screen.result_rows import row_of
from trainer.screen.results_page import ResultRow, Results, ResultSection, result_pages
from trainer.screen.scenes.parts import bpm_words

NOT_PLAYED = "no turn"
NOBODY = "nobody named"


def lesson_pages(results: LessonResults, day: str, paper: Paper = Paper.A4) -> tuple[PrintedPage, ...]:
    """Return the pages of a lesson: first that of the class, where several played.

    Args:
        day: in words.
    """
    pages: list[PrintedPage] = []
    if len(results.players) != 1:
        pages += result_pages(class_results(results, day), paper, is_close=True)
    for player in results.players:
        pages += result_pages(player_results(results, player, day), paper, is_close=True)
    return tuple(pages)


def class_results(results: LessonResults, day: str) -> Results:
    """Return the class's page: for each step a row for each who played."""
    sections = tuple(
        ResultSection(
            heading=step_title(results.lesson, at),
            words=step_words(step),
            rows=tuple(_row(player or NOBODY, results, at, player) for player in results.players),
        )
        for at, step in enumerate(results.lesson.steps)
    )
    return Results(title=results.lesson.title, words=(f"The class, {day}",), sections=sections)


def player_results(results: LessonResults, player: str, day: str) -> Results:
    """Return one player's page: a row for each step."""
    rows = tuple(
        _row(step_title(results.lesson, at), results, at, player) for at in range(len(results.lesson.steps))
    )
    section = ResultSection(heading="Step by step", rows=rows)
    title = f"{player or NOBODY}: {results.lesson.title}"
    return Results(title=title, words=(day,), sections=(section,))


def step_title(lesson: Lesson, at: int) -> str:
    """Return a step's number and what is played in it."""
    return f"{at + 1}  {lesson.steps[at].pattern.title}"


def step_words(step: LessonStep) -> str:
    """Return a step's tempo and time in a few words."""
    minutes = f"{float(step.minutes):g} minute{'s' * (step.minutes != 1)}"
    passes = f", {step.passes} pass{'es' * (step.passes != 1)} a turn" if step.passes is not None else ""
    return f"{bpm_words(step.bpm)} bpm, {minutes}{passes}"


def _row(name: str, results: LessonResults, step: int, player: str) -> ResultRow:
    tally = results.of(step, player)
    return ResultRow(name=name, facts=(NOT_PLAYED,)) if tally is None else row_of(name, tally)
