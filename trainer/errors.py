"""Every problem a user can meet, as data with one clear sentence.

Fields hold what was found, where, and what was wanted; ``__str__`` makes the sentence, of signs that can
be shown whatever was found. Only the command line (text, exit code) and the window (a banner) catch
:class:`TrainerError`.
"""

from __future__ import annotations

from trainer.plain_text import visible

LONGEST_WORDS = 400  # of what is said in one sentence: what was found can be as long as a file
LONGEST_LINE = 110  # of a line that is shown with a mistake in it, in characters


class TrainerError(Exception):
    """Something the user can mend; ``str()`` of it says what and how."""

    exit_code = 2


class BadNotation(TrainerError, ValueError):
    """A pattern's text cannot be read.

    Attributes:
        source: name of the file, or a word such as ``<text>``.
        line, column: 1-based place of the first wrong character; column counts characters.
        problem: what was found and what was wanted, one sentence without a final stop.
        remedy: what to do about it.
        line_text: the whole offending line, empty when the place is the file itself.
    """

    def __init__(
        self, *, source: str, line: int, column: int, problem: str, remedy: str, line_text: str = ""
    ) -> None:
        super().__init__(source, line, column, problem, remedy, line_text)
        self.source = source
        self.line = line
        self.column = column
        self.problem = problem
        self.remedy = remedy
        self.line_text = line_text

    def __str__(self) -> str:
        said = f"{_held(self.problem)}; {_held(self.remedy)}."
        sentence = f"{self.source}:{self.line}:{self.column}: {said}"
        if not self.line_text:
            return visible(sentence)
        line, at = _around(self.line_text, self.column - 1)
        # Tabs are kept in the pointer line so that the caret stands under its character everywhere.
        pad = "".join(c if c == "\t" else " " for c in visible(line[:at]))
        return f"{visible(sentence)}\n    {visible(line)}\n    {pad}^"


def _held(words: str) -> str:
    """Return words with their middle left out when they are very many."""
    if len(words) <= LONGEST_WORDS:
        return words
    return f"{words[: LONGEST_WORDS // 2]} … {words[-LONGEST_WORDS // 3 :]}"


def _around(line: str, at: int) -> tuple[str, int]:
    """Return what a reader needs of a line, and where in it the character at an index stands."""
    first = max(0, at - LONGEST_LINE // 2) if len(line) > LONGEST_LINE else 0
    cut = line[first : first + LONGEST_LINE]
    before, after = "…" if first else "", "…" if first + LONGEST_LINE < len(line) else ""
    return before + cut + after, at - first + len(before)


class _Sentence(TrainerError):
    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(problem, remedy)
        self.problem = problem
        self.remedy = remedy

    def __str__(self) -> str:
        return visible(f"{_held(self.problem)}; {_held(self.remedy)}.")


class BadSettings(_Sentence, ValueError):
    """A number or a word given to the program is outside what it can use."""


class BadTimes(_Sentence, ValueError):
    """A list of times is not finite or not in order."""


class BadTake(_Sentence, ValueError):
    """A recorded take cannot be read as a Standard MIDI File with taps in it."""


class BadRecords(_Sentence, ValueError):
    """Exported takes, or a row of the records, cannot be read as a take."""


class DeviceProblem(_Sentence, OSError):
    """A device of the outside world is missing or refused."""

    exit_code = 3


class NoMidi(DeviceProblem):
    """No MIDI library, or no such port."""


class NoSound(DeviceProblem):
    """No sound library, or no sound device."""


class NoDisplay(DeviceProblem):
    """No window library, or no display to open a window on."""


class StoreProblem(_Sentence, OSError):
    """A file or folder of the user's cannot be read or written."""

    exit_code = 4


class DamagedRecords(StoreProblem):
    """The records, or a take in them, are damaged; what can be read is saved, the rest lies beside them."""

    exit_code = 5
