"""Read a lesson's file, and find the patterns that it names."""

from __future__ import annotations

from pathlib import Path

from trainer.errors import BadNotation, BadSettings, StoreProblem
from trainer.music.excerpt import excerpt
from trainer.music.lesson_text import StepText, read_lesson_text
from trainer.music.pattern import Pattern
from trainer.music.source import Source
from trainer.practice.lesson import USUAL_MINUTES, Lesson, LessonStep
from trainer.records.library import Library, open_pattern
from trainer.records.tune_file import read_tune_text


def read_lesson(path: Path, library: Library) -> Lesson:
    """Read a lesson's file.

    Raises:
        BadNotation: what is in it is no lesson, or a step names what there is not.
        BadSettings: there is no such file, or it is a folder.
        StoreProblem: it cannot be read.
    """
    text = read_lesson_text(read_tune_text(path), str(path))
    return Lesson(title=text.title, steps=tuple(_step(text.source, step, library) for step in text.steps))


def _step(source: Source, step: StepText, library: Library) -> LessonStep:
    pattern = _bars(source, step, _pattern(source, step, library))
    return LessonStep(
        pattern=pattern,
        bpm=step.bpm or pattern.slow_bpm,
        minutes=step.minutes or USUAL_MINUTES,
        passes=step.passes,
        words=step.words or pattern.teacher,
    )


def _pattern(source: Source, step: StepText, library: Library) -> Pattern:
    try:
        return open_pattern(step.name.text, library)
    except (BadSettings, StoreProblem) as err:
        source.fail_word(step.name, err.problem, err.remedy)
    except BadNotation as err:
        source.fail_word(step.name, f"{err.source} cannot be read: {err.problem}", err.remedy)


def _bars(source: Source, step: StepText, pattern: Pattern) -> Pattern:
    if step.bars is None:
        return pattern
    first, last = step.bars
    try:
        return excerpt(pattern, first - 1, last - 1)
    except BadSettings as err:
        source.fail_word(step.bars_at or step.name, err.problem, err.remedy)
