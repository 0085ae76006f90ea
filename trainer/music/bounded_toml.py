"""Read TOML in bounded time, whatever somebody has put into the file.

The library walks brackets by calling itself, turns numbers of any length into integers and takes a key of
30,000 parts for 30,000 tables, each looked up from the first: 64 KiB keep it busy for half a minute. So what
lies outside strings and remarks is looked at before it is read.
"""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal

from trainer.music.exact import read_decimal

MOST_DEPTH = 8  # of brackets, and of the parts of a key
LONGEST_NUMBER = 64
# A string that is never closed reaches to the end, so that no character is looked at twice.
_HIDDEN = re.compile(
    r'"""(?:[^\\]|\\.)*?(?:"""|\\?\Z)'
    r"|'''.*?(?:'''|\Z)"
    r'|"(?:[^"\\\n]|\\[^\n])*"?'
    r"|'[^'\n]*'?"
    r"|#[^\n]*",
    re.DOTALL,
)
_PIECE = re.compile(r"[\[{]|[\]}]|[^,=\[\]{}\n]+")
_NUMBER_HEAD = re.compile(r"[ \t]*[+-]?[0-9]")
_LINE_END = re.compile(r"[^\n]")


class BadToml(ValueError):
    """The text is no TOML that we read.

    Attributes:
        at: the index of the first wrong character, None when only the library's message tells the place.
    """

    def __init__(self, problem: str, at: int | None = None) -> None:
        super().__init__(problem)
        self.at = at


def read_toml(text: str) -> dict[str, object]:
    """Return the table of a text; numbers with a point are Decimal, exactly as they were written.

    Raises:
        BadToml: it is not TOML, nests deeper than eight levels or holds a number that is too long.
    """
    _check(text)
    try:
        # Decimal keeps 97.3 as it was written; a float would not.
        return tomllib.loads(text, parse_float=lambda word: _decimal(word, text))
    except tomllib.TOMLDecodeError as err:
        raise BadToml(str(err)) from err
    except BadToml:
        raise
    except (ValueError, RecursionError, ArithmeticError) as err:
        raise BadToml("a value is too long or nests too deep", 0) from err


def _check(text: str) -> None:
    """Refuse what would keep the library busy for long, by what stands outside strings and remarks."""
    bare = _HIDDEN.sub(lambda found: _LINE_END.sub(" ", found[0]), text)
    depth = 0
    for piece in _PIECE.finditer(bare):
        words = piece[0]
        if words in "[{":
            depth += 1
        elif words in "]}":
            depth -= 1
        if depth > MOST_DEPTH or words.count(".") > MOST_DEPTH:
            raise BadToml(f"this nests deeper than {MOST_DEPTH} levels", piece.start())
        if len(words) > LONGEST_NUMBER and _NUMBER_HEAD.match(words) and len(words.strip()) > LONGEST_NUMBER:
            at = piece.start() + len(words) - len(words.lstrip())
            raise BadToml(f"this number is longer than {LONGEST_NUMBER} characters", at)


def _decimal(word: str, text: str) -> Decimal:
    try:
        return read_decimal(word.replace("_", ""))
    except ValueError:
        raise BadToml("this number is outside all that can be meant", max(text.find(word), 0)) from None
