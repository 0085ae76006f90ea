"""Name the strokes of the down-picking hand and say what each may do.

Strings are numbered 1 (highest) to 4 (lowest), 5 is the short drone. A pendulum hand falls on down
slots and rises on up slots: the nail works falling, the thumb rising (common practice, no source).
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

DRONE = 5
INSIDE_STRINGS = (2, 3, 4)
LONG_STRINGS = (1, 2, 3, 4)
ALL_STRINGS = (1, 2, 3, 4, 5)
DEFAULT_BRUSH = (3, 2, 1)
HIGHEST_FRET = 22  # common practice, no source: most five-string necks have 22 frets


class Motion(enum.Enum):
    """Which way the hand travels through a slot."""

    DOWN = "down"
    UP = "up"


class Hand(enum.Enum):
    """What sounds the string: the nail, the thumb, the left hand, or nothing."""

    NAIL = "nail"
    THUMB = "thumb"
    LEFT = "left"
    NONE = "none"


class Kind(enum.Enum):
    """The kinds of stroke; each value is the word that a pattern file uses."""

    STRIKE = "strike"
    BRUSH = "brush"
    THUMB = "thumb"
    DROP_THUMB = "drop-thumb"
    SKIP = "skip"
    REST = "rest"
    HAMMER_ON = "hammer-on"
    PULL_OFF = "pull-off"
    SLIDE = "slide"

    @property
    def hand(self) -> Hand:
        """The hand that makes this stroke's sound; NONE for a skip or a rest."""
        return _HANDS[self]

    @property
    def motion(self) -> Motion | None:
        """The way the hand must be travelling; None where either way will do."""
        return _MOTIONS.get(self)

    @property
    def strings(self) -> tuple[int, ...]:
        """The strings this kind may name in a pattern file; empty when it names none."""
        return _STRINGS[self]

    @property
    def takes_fret(self) -> bool:
        """Whether a fret may be written after the string."""
        return self in (Kind.STRIKE, Kind.DROP_THUMB) or self.hand is Hand.LEFT

    @property
    def sounds(self) -> bool:
        """Whether anything is heard."""
        return self.hand is not Hand.NONE


_HANDS = {
    Kind.STRIKE: Hand.NAIL,
    Kind.BRUSH: Hand.NAIL,
    Kind.THUMB: Hand.THUMB,
    Kind.DROP_THUMB: Hand.THUMB,
    Kind.SKIP: Hand.NONE,
    Kind.REST: Hand.NONE,
    Kind.HAMMER_ON: Hand.LEFT,
    Kind.PULL_OFF: Hand.LEFT,
    Kind.SLIDE: Hand.LEFT,
}
_MOTIONS = {
    Kind.STRIKE: Motion.DOWN,
    Kind.BRUSH: Motion.DOWN,
    Kind.SKIP: Motion.DOWN,
    Kind.THUMB: Motion.UP,
    Kind.DROP_THUMB: Motion.UP,
}
_STRINGS: dict[Kind, tuple[int, ...]] = {
    Kind.STRIKE: LONG_STRINGS,
    Kind.BRUSH: LONG_STRINGS,
    Kind.THUMB: (),
    Kind.DROP_THUMB: INSIDE_STRINGS,
    Kind.SKIP: (),
    Kind.REST: (),
    Kind.HAMMER_ON: ALL_STRINGS,
    Kind.PULL_OFF: ALL_STRINGS,
    Kind.SLIDE: ALL_STRINGS,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One thing that should happen in one slot.

    Attributes:
        kind: what happens.
        strings: the strings sounded, in the order the hand meets them (a brush falls from the
            lower-sounding strings to string 1); empty for a skip or a rest.
        fret: where the left hand stops the string, 0 for open; None when the pattern doesn't say, and for
            a brush, which has ``frets``.
        frets: for a brush, where each of its strings is stopped, in their order; empty when all are open.
        accented: to be played louder than its neighbours.
    """

    kind: Kind
    strings: tuple[int, ...] = ()
    fret: int | None = None
    accented: bool = False
    frets: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a stroke that no hand could make (a broken promise in our code, not user input)."""
        kind = self.kind
        if kind is Kind.THUMB:
            ok = self.strings == (DRONE,)
        elif kind is Kind.BRUSH:
            ok = len(self.strings) >= 2 and self.strings == tuple(
                range(self.strings[0], self.strings[-1] - 1, -1)
            )
        elif not kind.sounds:
            ok = self.strings == ()
        else:
            ok = len(self.strings) == 1
        ok = ok and (kind is Kind.THUMB or set(self.strings) <= set(kind.strings))
        if not ok:
            raise ValueError(f"{kind.value} cannot sound strings {self.strings}")
        if self.fret is not None and not (kind.takes_fret and 0 <= self.fret <= HIGHEST_FRET):
            raise ValueError(f"{kind.value} cannot be at fret {self.fret}")
        if self.frets and not (
            kind is Kind.BRUSH
            and len(self.frets) == len(self.strings)
            and all(0 <= fret <= HIGHEST_FRET for fret in self.frets)
        ):
            raise ValueError(f"{kind.value} of strings {self.strings} cannot be at frets {self.frets}")
        if self.accented and not kind.sounds:
            raise ValueError(f"a {kind.value} is silent and cannot be accented")

    @property
    def hand(self) -> Hand:
        """The hand that makes the sound."""
        return self.kind.hand

    @property
    def all_frets(self) -> tuple[int, ...]:
        """The fret of each string, in the order of ``strings``; 0 where the pattern doesn't say."""
        return self.frets or (self.fret or 0,) * len(self.strings)
