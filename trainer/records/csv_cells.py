"""Write texts into cells of CSV so that no spreadsheet takes them for a formula, and read them back.

A spreadsheet takes a cell for a formula that begins with =, +, -, @, a tab or the end of a line. Before such
a text, and before one that begins with an apostrophe, an apostrophe is written; numbers are numbers and stay
as they are.

Reference: owasp.org, CSV Injection (from memory).
"""

from __future__ import annotations

import re
from typing import TypeAlias

Cell: TypeAlias = str | int | float

_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "'")
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")


def written(cell: Cell) -> Cell:
    """Return a cell as it is written; a text that is a number, such as -12.5, is left as it is."""
    if isinstance(cell, str) and cell.startswith(_RISKY) and not _NUMBER.fullmatch(cell):
        return f"'{cell}"
    return cell


def read(cell: str) -> str:
    """Return a text as it was before :func:`written`."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_RISKY) else cell
