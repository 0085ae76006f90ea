"""Find what a word means among the few things that can be chosen."""

from __future__ import annotations

import enum
from collections.abc import Collection
from typing import TypeVar

from trainer.errors import BadSettings
from trainer.music.source import shown

E = TypeVar("E", bound=enum.Enum)


def one_of(word: str, choices: Collection[str], what: str) -> str:
    """Return a word that is among the choices.

    Args:
        what: what is chosen, in words for the complaint.

    Raises:
        BadSettings: it is not among them.
    """
    if word not in choices:
        wanted = ", ".join(f'"{choice}"' for choice in choices)
        raise BadSettings(f"found {shown(word)} for {what}", f"write one of {wanted}")
    return word


def named(choices: type[E], word: str, what: str) -> E:
    """Return the member of which a word is the value; for the rest as :func:`one_of`."""
    return choices(one_of(word, [choice.value for choice in choices], what))
