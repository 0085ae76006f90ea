"""Say at which fret each string was when a stroke of the left hand comes to it."""

from __future__ import annotations

from functools import lru_cache

from trainer.music.pattern import Pattern
from trainer.music.strokes import ALL_STRINGS, Hand

FretsBefore = tuple[tuple[int | None, ...], ...]


@lru_cache(maxsize=16)
def frets_before(pattern: Pattern) -> FretsBefore:
    """Return the fret that the string of each left-hand stroke had before it, by bar and slot.

    None where the stroke is no left-hand one. A pass is taken to follow another, and a string that nothing
    else sounds to be open.
    """
    had = dict.fromkeys(ALL_STRINGS, 0)
    for _ in range(2):  # the end of a pass says what its begin finds
        found = []
        for bar in pattern.bars:
            row: list[int | None] = []
            for stroke in bar:
                row.append(had[stroke.strings[0]] if stroke.hand is Hand.LEFT else None)
                had.update(zip(stroke.strings, stroke.last_frets, strict=False))
            found.append(tuple(row))
    return tuple(found)
