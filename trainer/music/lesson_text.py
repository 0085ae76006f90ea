"""Read the text of a lesson: one step a line, its parts between commas, and after a colon what to say.

::

    kind = "lesson"
    title = "First skips"
    steps = \"\"\"
    basic-figure, 60 bpm, 3 minutes
    skip-figure, 50 bpm, 5 minutes: let the hand fall as if it struck
    barn-lantern at skips, bars 3 to 6, 60 bpm, 4 minutes
    \"\"\"

A step is the name of a pattern, as it is written everywhere (``NAME``, ``NAME at skips``, ``NAME with
PATTERN``, a path), and after it in any order: ``bars 3 to 6`` or ``bar 3``, ``60 bpm``, ``5 minutes``, ``4
passes``. What is left out is all bars, the pattern's slow tempo, three minutes, and as many passes as the
minutes allow. ``#`` begins a remark.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.exact import read_exact
from trainer.music.pattern import MAX_TITLE
from trainer.music.source import Source, Word, nearest, shown
from trainer.music.timeline import as_tempo
from trainer.music.toml_text import TomlText

KIND = "lesson"
LESSON_KEYS = ("title", "steps")
LESSON_OPTIONS = ("kind",)
MOST_STEPS = 40
MOST_MINUTES, MOST_TURN_PASSES = 90, 500
LONGEST_WORDS = 160
PARTS = ("bars", "bpm", "minutes", "passes")
_BARS = re.compile(r"bars? +(\d{1,3})(?: +to +(\d{1,3}))?", re.IGNORECASE)
_AMOUNT = re.compile(r"(\S+) +(bpm|minutes?|pass|passes)", re.IGNORECASE)
_COLON = re.compile(r":(?=\s|$)")  # not that of a path
_ONE = {"minute": "minutes", "pass": "passes"}


@dataclass(frozen=True, slots=True, kw_only=True)
class StepText:
    """One step as it is written; None where nothing was said.

    Attributes:
        name: what is played, with its place in the file.
        bars: first and last, as people count, with their place.
        bpm, minutes, passes: as in :class:`~trainer.practice.lesson.LessonStep`.
        words: what is to be said.
    """

    name: Word
    bars: tuple[int, int] | None = None
    bars_at: Word | None = None
    bpm: Fraction | None = None
    minutes: Fraction | None = None
    passes: int | None = None
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonText:
    """A lesson as it is written: its title, its steps, and the file to point into."""

    source: Source
    title: str
    steps: tuple[StepText, ...]


def read_lesson_text(text: str, source: str) -> LessonText:
    """Read a lesson's text.

    Args:
        source: the file's name, for pointing at what is wrong.

    Raises:
        BadNotation: the first thing that is wrong.
    """
    toml = TomlText.of(text, source)
    if toml.table.get("kind", KIND) != KIND:
        toml.fail_key("kind", f"found {shown(toml.table['kind'])} for kind", f'write kind = "{KIND}"')
    toml.check_keys(LESSON_KEYS, LESSON_OPTIONS, "lessons")
    title = toml.words("title", MAX_TITLE)
    block = toml.block("steps")
    steps = []
    for number, words in enumerate(block.text.split("\n")):
        line = Word(words, block.line + number, block.column if number == 0 else 1)
        step = _step(toml.source, line)
        if step is not None:
            steps.append(step)
        if len(steps) > MOST_STEPS:
            toml.source.fail_word(line, f"found more than {MOST_STEPS} steps", "make two lessons of it")
    if not steps:
        toml.fail_key(
            "steps", "the lesson has no step", "write one on a line: basic-figure, 60 bpm, 3 minutes"
        )
    return LessonText(source=toml.source, title=title, steps=tuple(steps))


def _step(source: Source, line: Word) -> StepText | None:
    """Return the step of a line; None for an empty one."""
    line = Word(line.text.split("#", 1)[0], line.line, line.column)
    colon = _COLON.search(line.text)
    asked = line.text[: colon.start()] if colon else line.text
    words = line.text[colon.end() :] if colon else ""
    parts = [part.trimmed() for part in Word(asked, line.line, line.column).split(",")]
    if not asked.strip():
        if colon:
            source.fail_word(line.trimmed(), "the step has no pattern", "write its name before the colon")
        return None
    name, *rest = parts
    if not name.text:
        source.fail_word(name, "the step has no pattern", "write its name before the first comma")
    words = " ".join(words.split())
    if len(words) > LONGEST_WORDS:
        source.fail_word(
            line.trimmed(), f"the words are {len(words)} characters long", f"keep them to {LONGEST_WORDS}"
        )
    found = StepText(name=name, words=words)
    seen: set[str] = set()
    for part in rest:
        found = _with_part(source, found, part, seen)
    return found


def _with_part(source: Source, step: StepText, part: Word, seen: set[str]) -> StepText:
    bars, amount = _BARS.fullmatch(part.text), _AMOUNT.fullmatch(part.text)
    if bars is None and amount is None:
        source.fail_word(part, f"found {shown(part.text)} in a step", _hint(part.text))
    kind = "bars" if amount is None else _ONE.get(amount[2].lower(), amount[2].lower())
    if kind in seen:
        source.fail_word(part, f"the step has {kind} twice", "leave one out")
    seen.add(kind)
    if amount is None:
        assert bars is not None
        first, last = int(bars[1]), int(bars[2] or bars[1])
        return replace(step, bars=(first, last), bars_at=part)
    value = Word(amount[1], part.line, part.column)
    if kind == "bpm":
        try:
            return replace(step, bpm=as_tempo(amount[1]))
        except BadSettings as err:
            source.fail_word(value, err.problem, err.remedy)
    if kind == "minutes":
        return replace(step, minutes=_number(source, value, Fraction(1, 4), MOST_MINUTES, "minutes"))
    passes = _number(source, value, Fraction(1), MOST_TURN_PASSES, "passes")
    if passes.denominator != 1:
        source.fail_word(value, f"found {shown(value.text)} for passes", "write a whole number")
    return replace(step, passes=int(passes))


def _number(source: Source, value: Word, least: Fraction, most: int, what: str) -> Fraction:
    try:
        found = read_exact(value.text)
    except ValueError:
        source.fail_word(value, f"found {shown(value.text)} for {what}", "write a number")
    if not least <= found <= most:
        source.fail_word(
            value, f"{value.text} {what} are outside {float(least):g} to {most}", "choose a number inside"
        )
    return found


def _hint(text: str) -> str:
    """Return what was probably meant by a part of a step."""
    last = text.split()[-1].lower() if text.split() else ""
    near = nearest(last, (*PARTS, "minute"))
    example = "such as bars 3 to 6, 60 bpm, 5 minutes or 4 passes"
    return f"did you mean {near}, {example}" if near else f"write parts {example}; words go after a colon"
