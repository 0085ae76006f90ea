"""Keep a pattern file's text at hand so that every problem can be pointed at.

Lines and columns are 1-based and count characters.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import NoReturn

from trainer.errors import BadNotation

LONGEST_SHOWN = 40
LONGEST_SHOWN_BITS = 128  # Python itself refuses to spell out a number of more than 4,300 digits


@dataclass(frozen=True, slots=True)
class Word:
    """A piece of the text and where it stands."""

    text: str
    line: int
    column: int

    def trimmed(self) -> Word:
        """Return the word without the space around it, its place moved along."""
        lead = len(self.text) - len(self.text.lstrip())
        return Word(self.text.strip(), self.line, self.column + lead)

    def split(self, mark: str) -> list[Word]:
        """Return the pieces between marks, each with its place."""
        words = []
        column = self.column
        for piece in self.text.split(mark):
            words.append(Word(piece, self.line, column))
            column += len(piece) + len(mark)
        return words


@dataclass(frozen=True, slots=True)
class Source:
    """A file's name and its lines."""

    name: str
    lines: tuple[str, ...]

    def fail(self, line: int, column: int, problem: str, remedy: str) -> NoReturn:
        """Raise BadNotation for a place."""
        text = self.lines[line - 1] if line <= len(self.lines) else ""
        raise BadNotation(
            source=self.name, line=line, column=column, problem=problem, remedy=remedy, line_text=text
        )

    def fail_word(self, word: Word, problem: str, remedy: str) -> NoReturn:
        """Raise BadNotation for a word."""
        self.fail(word.line, word.column, problem, remedy)


def nearest(word: str, words: tuple[str, ...]) -> str:
    """Return the word that was probably meant, or an empty string."""
    near = difflib.get_close_matches(word.lower(), words, n=1)
    return near[0] if near else ""


def shown(value: object) -> str:
    """Return a found value as an error shows it: text in quotes, cut when long."""
    if isinstance(value, int) and value.bit_length() > LONGEST_SHOWN_BITS:
        return "a huge number"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"
