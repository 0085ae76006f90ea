"""Answer the command about lessons: open one in the window, say what is in it, write what it came to."""

from __future__ import annotations

import argparse
from datetime import date
from functools import partial
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, read_day
from trainer.commands.records import add_folder, opened_file, with_records
from trainer.commands.window import open_window
from trainer.errors import BadSettings
from trainer.music.lesson_text import MOST_MINUTES, MOST_STEPS
from trainer.opening import Opening
from trainer.practice.lesson import Lesson
from trainer.practice.lesson_results import LessonResults, lesson_results
from trainer.records.copies import CopyKind, note_copy
from trainer.records.lesson_file import read_lesson
from trainer.records.library import load_library
from trainer.records.store import Store

EXAMPLE = '''kind = "lesson"
title = "First skips"
steps = """
basic-figure, 60 bpm, 3 minutes
skip-figure, 50 bpm, 5 minutes: let the hand fall as if it struck
barn-lantern at skips, bars 3 to 6, 50 bpm, 4 passes
"""
'''
EXPLANATION = f"""A lesson is a text file (TOML) with a title and steps, one on a line.
What follows # is a remark.

KEYS
  kind     "lesson"; may be left out
  title    what the board shows
  steps    one step on a line, at most {MOST_STEPS}; parts are parted by commas, words to say follow a colon

A STEP
  the name of a figure, a break at a level (NAME at skips), a chart with a figure (NAME with PATTERN),
  or the path of a file; then, in any order and each at most once:
  bars 3 to 6, or bar 3      only these bars (default: all)
  50 bpm                     beats a minute (default: the pattern's slow tempo)
  5 minutes                  how long the step takes, all turns together, 1/4 to {MOST_MINUTES} (default: 3)
  4 passes                   of each turn (default: as many as the minutes allow)

EXAMPLE
"""


def show_lesson(lesson: Lesson) -> Answer:
    """Say what is in a lesson."""
    lines = [f"{lesson.title}: {len(lesson.steps)} steps, {float(lesson.minutes):g} minutes"]
    for at, step in enumerate(lesson.steps, start=1):
        lines.append(
            f"{at:>3}  {step.pattern.title} ({step.pattern.name}), {float(step.bpm):g} bpm, "
            f"{float(step.minutes):g} min, {step.passes_for(1)} passes alone"
        )
        if step.words:
            lines.append(f"     {step.words}")
    return Answer(lines=tuple(lines))


def gather(store: Store, lesson: Lesson, day: date) -> LessonResults:
    """Return what was played of a lesson on a day, by anybody."""
    unread: list[int] = []
    names = dict.fromkeys(step.pattern.name for step in lesson.steps)
    takes = [
        take for name in names for take in store.each_take(pattern=name, unread=unread, day=day.toordinal())
    ]
    return lesson_results(lesson, day.toordinal(), takes)


def write_results(store: Store, lesson: Lesson, day: date, to: Path) -> Answer:
    """Write the pages of what a lesson came to on a day.

    Raises:
        BadSettings: nobody has played any of it then.
    """
    from trainer.screen.lesson_page import lesson_pages  # loads the libraries that draw
    from trainer.screen.paper import write_pages

    results = gather(store, lesson, day)
    if not results.players:
        raise BadSettings(f"nobody played anything of {lesson.title} on {day}", "name the day with --on")
    pages = lesson_pages(results, day.isoformat())
    written = write_pages(pages, to, title=lesson.title)
    for each in written:
        note_copy(CopyKind.PAGE, each)
    names = ", ".join(player or "nobody named" for player in results.players)
    return Answer(lines=tuple(f"{each}: {lesson.title}, {day}: {names}." for each in written[:1]))


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser("lesson", help="step through a lesson written as a text file; write its results")
    parser.add_argument("file", nargs="?", metavar="FILE", help="the lesson's file")
    parser.add_argument("--explain", action="store_true", help="say how a lesson is written, with an example")
    parser.add_argument("--show", action="store_true", help="say what is in it, without the window")
    parser.add_argument(
        "--results",
        metavar="PAGE",
        help="write what it came to, .pdf or .png: the class, and each who played",
    )
    parser.add_argument("--on", metavar="YYYY-MM-DD", default="today", help="of this day (default: today)")
    parser.add_argument("--input", metavar="NAME", help="MIDI input, by name or a part of it")
    add_folder(parser)

    def run(o: argparse.Namespace) -> Answer:
        if o.explain:
            return Answer(lines=(*EXPLANATION.rstrip().splitlines(), *EXAMPLE.splitlines()))
        if o.file is None:
            raise BadSettings("no lesson is named", "name its file, or see how one is written: --explain")
        path = Path(o.file)
        lesson = read_lesson(path, load_library())
        if o.show:
            return show_lesson(lesson)
        if o.results is not None:
            day = read_day(o.on, "--on")
            to = Path(o.results)
            return with_records(opened_file(o.records), partial(write_results, lesson=lesson, day=day, to=to))
        return Answer(exit_code=open_window(Opening(lesson=path, input_name=o.input)))

    parser.set_defaults(command=run)
