"""Read the words of the command line, and hold what a command has to say."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path
from typing import NoReturn, TypeAlias

from trainer.errors import BadSettings
from trainer.music.exact import read_exact
from trainer.music.layout import MOST_PASSES
from trainer.music.source import LONGEST_SHOWN, nearest, shown
from trainer.music.strokes import Kind
from trainer.practice.faults import LARGEST_MS
from trainer.records.take_text import FIRST_YEAR, LAST_YEAR

MIDI_ENDINGS = (".mid", ".midi")
PATTERN_OPTION = "--pattern"
NAME_GOES_ON = ("at", "with", "in")  # words that join a name to its level, its figure, its key


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a command has to say.

    Attributes:
        lines: what was asked for, to standard output.
        notes: what should be known besides, to standard error.
        exit_code: 0 done, 1 below the goal, 2 wrong usage or pattern, 3 device, 4 store.
    """

    lines: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    exit_code: int = 0


class Parser(argparse.ArgumentParser):
    """A parser whose complaints are one sentence, raised like every other."""

    def __init__(self, **options: object) -> None:
        super().__init__(allow_abbrev=False, **options)  # type: ignore[arg-type]

    def error(self, message: str) -> NoReturn:
        raise BadSettings(message.strip().rstrip("."), f"see {self.prog} --help")


Commands: TypeAlias = "argparse._SubParsersAction[Parser]"  # argparse has no public name for it


class JoinedWords(argparse.Action):
    """Takes a name of several words, such as ``barn-lantern at skips``, with quotes or without."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: str | Sequence[object] | None,
        option_string: str | None = None,  # noqa: ARG002 - argparse passes it
    ) -> None:
        """Keep the words as one; None where there are none."""
        words = [str(value) for value in values] if isinstance(values, list) else []
        if len(words) > 1 and words[1].lower() not in NAME_GOES_ON:
            parser.error(f"unrecognized arguments: {' '.join(words[1:])}")
        setattr(namespace, self.dest, " ".join(words) or None)


def with_joined_names(words: Sequence[str]) -> list[str]:
    """Return the command line with the name after each ``--pattern`` as one word, quoted or not.

    An option that takes several words would take those after it as well, so they are joined beforehand.

    >>> with_joined_names(["export", "--pattern", "barn-lantern", "at", "skips", "takes.json"])
    ['export', '--pattern', 'barn-lantern at skips', 'takes.json']
    """
    joined: list[str] = []
    left = list(words)
    while left:
        word = left.pop(0)
        joined.append(word)
        if word == PATTERN_OPTION and left:
            joined.append(left.pop(0))
        elif not word.startswith(f"{PATTERN_OPTION}="):
            continue
        while len(left) > 1 and left[0].lower() in NAME_GOES_ON:
            joined[-1] += f" {left.pop(0)} {left.pop(0)}"
    return joined


def add_bpm(parser: argparse.ArgumentParser) -> None:
    """Add the option for the tempo of what is played, the pattern's slow one where it is left out."""
    parser.add_argument("--bpm", metavar="N", help="beats a minute (default: the pattern's slow tempo)")


def add_pattern(parser: Parser) -> None:
    """Add the pattern that a command is about."""
    parser.add_argument(
        "pattern",
        nargs="+",
        action=JoinedWords,
        metavar="PATTERN",
        help="name in the library, with a level or a figure if it has one (NAME at skips), or path of a file",
    )


def midi_name_notes(path: Path) -> tuple[str, ...]:
    """Return what should be known of a MIDI file's name: without the usual ending few programs open it."""
    if path.suffix.lower() in MIDI_ENDINGS:
        return ()
    return (f"{path} is a Standard MIDI File; other programs know it by the ending .mid.",)


def read_day(text: str, option: str) -> date:
    """Return a day from the command line, ``today`` included.

    Raises:
        BadSettings: no day, or one of a year in which nobody practises.
    """
    if text == "today":
        return datetime.now().date()
    try:
        found = date.fromisoformat(text)
        if FIRST_YEAR <= found.year <= LAST_YEAR:
            return found
    except ValueError:
        pass
    raise BadSettings(f"found {shown(text)} for {option}", "write a day such as 2026-03-01")


def signed_ms(seconds: float) -> str:
    """Return a placement in whole ms with its sign, late positive; nought has none.

    >>> signed_ms(0.0123), signed_ms(-0.0001)
    ('+12 ms', '0 ms')
    """
    ms = round(1000 * seconds)
    return f"{ms:+d} ms" if ms else "0 ms"


def read_number(text: str, what: str, least: float, most: float) -> float:
    """Return a number from the command line.

    Raises:
        BadSettings: not a number, or outside its limits.
    """
    try:
        value = float(read_exact(text))
    except ValueError:
        raise BadSettings(f"found {shown(text)} for {what}", "write a number") from None
    if not least <= value <= most:
        raise BadSettings(
            f"{what} of {text[:LONGEST_SHOWN]} is outside {least:g} to {most:g}", "choose one inside"
        )
    return value


def by_kind(words: Sequence[str], option: str) -> tuple[tuple[Kind, float], ...]:
    """Return seconds by kind of stroke from words such as ``brush=20`` (ms); a later word wins.

    Raises:
        BadSettings: no kind of stroke that sounds, or no number.
    """
    sounding = [kind for kind in Kind if kind.sounds]
    kinds = {kind.value: [kind] for kind in sounding} | {"all": sounding}
    found: dict[Kind, float] = {}
    for each in words:
        word, equals, amount = each.partition("=")
        if not equals or word not in kinds:
            near = nearest(word, tuple(kinds))
            hint = f"did you mean {near}" if near and equals else "write a kind and ms, such as drop-thumb=25"
            raise BadSettings(f'found "{each}" for {option}', hint)
        second = read_number(amount, f"{option} {word}", -LARGEST_MS, LARGEST_MS) / 1000
        found.update(dict.fromkeys(kinds[word], second))
    return tuple(found.items())


def read_swing(text: str) -> Fraction:
    """Return a ratio of long to short.

    Raises:
        BadSettings: not a number.
    """
    try:
        return read_exact(text)
    except ValueError:
        raise BadSettings(
            f"found {shown(text)} for the swing", "write long to short, such as 1.5 or 2"
        ) from None


def whole(text: str, what: str, least: int, *, most: int = MOST_PASSES) -> int:
    """Return a whole number from the command line.

    Raises:
        BadSettings: not a whole number, or outside its limits.
    """
    value = read_number(text, what, least, most)
    if value != int(value):
        raise BadSettings(f"found {shown(text)} for {what}", f"write a whole number from {least} to {most}")
    return int(value)
