"""Round values for files that programs read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

Json: TypeAlias = "bool | int | float | str | Sequence[Json] | Mapping[str, Json] | None"


def milliseconds(seconds: float | None) -> float | None:
    """Return seconds as ms to the microsecond, or None."""
    return None if seconds is None else round(seconds * 1000, 3)


def rounded(value: float | None) -> float | None:
    """Return a number to six decimals, or None."""
    return None if value is None else round(value, 6)
