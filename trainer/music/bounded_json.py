"""Read JSON in bounded time: no nesting that stops the reader, no number that cannot be spelt out."""

from __future__ import annotations

import json
import re

from trainer.music.exact import MOST_DIGITS

MOST_DEPTH = 32
# A string that is never closed reaches to the end, so that no character is looked at twice.
_JSON_STRING = re.compile(r'"(?:[^"\\]|\\.)*(?:"|\\?\Z)', re.DOTALL)
_NOT_NESTING = re.compile(r"[^\[\]{}]+")
_LONG_NUMBER = re.compile(rf"[0-9]{{{MOST_DIGITS + 1}}}|[eE][+-]?[0-9]{{4}}")


def parse_json(data: bytes) -> object:
    """Return the value of JSON text, as UTF-8.

    Raises:
        ValueError: no UTF-8, no JSON, nested deeper than 32 levels, a number of more than 30 digits, an
            infinite one or none ("NaN").
    """
    text = data.decode("utf-8-sig")
    bare = _JSON_STRING.sub("", text)
    depth = 0
    for marks in _NOT_NESTING.sub("", bare):
        depth += 1 if marks in "[{" else -1
        if depth > MOST_DEPTH:
            raise ValueError(f"it nests deeper than {MOST_DEPTH} levels")
    if _LONG_NUMBER.search(bare):
        raise ValueError("it holds a number that is too long")
    try:
        return json.loads(text, parse_constant=_no_number)
    except RecursionError as err:
        raise ValueError("it nests too deep") from err


def _no_number(word: str) -> object:
    raise ValueError(f"{word} is no number")
