"""Read a table of plain values (of JSON) field by field; what does not fit is named in one sentence."""

from __future__ import annotations

import math
from typing import NoReturn, TypeGuard

from trainer.errors import BadRecords
from trainer.records.take_text import clean_words, shown

MOST = 2**53  # beyond, other readers of JSON round whole numbers
LARGEST = 1e9  # of any number of seconds or strokes
AGAIN = "export the takes again"


class Fields:
    """A table whose fields are asked for by name.

    Every method raises BadRecords when the field is missing or holds another kind of value.
    """

    def __init__(self, table: object) -> None:
        if not isinstance(table, dict):
            raise BadRecords(f"found {shown(table)} where a table should be", AGAIN)
        self._table = table

    def has(self, name: str) -> bool:
        """Return whether there is such a field."""
        return name in self._table

    def value(self, name: str) -> object:
        """Return a field of any kind."""
        if name not in self._table:
            raise BadRecords(f"the field {name} is missing", AGAIN)
        return self._table[name]

    def fail(self, name: str, remedy: str) -> NoReturn:
        """Refuse a field."""
        raise BadRecords(f"found {shown(self._table.get(name))} for {name}", remedy)

    def text(self, name: str) -> str:
        """Return words as they stand there."""
        value = self.value(name)
        if not isinstance(value, str):
            self.fail(name, "write words in quotes")
        return value

    def words(self, name: str) -> str:
        """Return words that every file and terminal can hold."""
        return clean_words(self.text(name))

    def whole(self, name: str, *, least: int = 0, most: int = MOST) -> int:
        """Return a whole number."""
        value = self.value(name)
        if not is_whole(value) or not least <= value <= most:
            self.fail(name, f"write a whole number from {least}" + (f" to {most}" if most < MOST else ""))
        return value

    def number(self, name: str) -> float:
        """Return a number that is finite."""
        value = self.maybe(name)
        if value is None:
            self.fail(name, "write a number")
        return value

    def maybe(self, name: str) -> float | None:
        """Return a number that is finite, or None for null."""
        value = self.value(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.fail(name, "write a number or null")
        # A whole number may be too large even to become a float.
        if not -LARGEST <= value <= LARGEST or not math.isfinite(value):
            self.fail(name, "write a number or null")
        return float(value)

    def flag(self, name: str) -> bool:
        """Return true or false."""
        value = self.value(name)
        if not isinstance(value, bool):
            self.fail(name, "write true or false")
        return value

    def rows(self, name: str) -> list[object]:
        """Return a list of anything."""
        value = self.value(name)
        if not isinstance(value, list):
            self.fail(name, "write a list")
        return value


def words_in(value: object) -> list[str]:
    """Return a list of texts that is inside a field.

    Raises:
        BadRecords: anything else.
    """
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise BadRecords(f"found {shown(value)} where a list of words should be", AGAIN)
    return value


def is_whole(value: object) -> TypeGuard[int]:
    """Return whether a value of JSON is a whole number; true and false are none."""
    return isinstance(value, int) and not isinstance(value, bool)
