"""Name the strokes of the down-picking hand and say what each may do.

Strings are numbered 1 (highest) to 4 (lowest), 5 is the short drone. A pendulum hand falls on down
slots and rises on up slots: the nail works falling, the thumb rising (common practice, no source). A thumb
and a nail sounding together, and a brush on the way up, are therefore no strokes of this hand; a muted
stroke, a thumb that drops as far as string 1 and a stopped short string are (common practice, no source).
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

DRONE = 5
INSIDE_STRINGS = (2, 3, 4)
LONG_STRINGS = (1, 2, 3, 4)
ALL_STRINGS = (1, 2, 3, 4, 5)
DEFAULT_BRUSH = (3, 2, 1)
HIGHEST_FRET = 22  # common practice, no source: most five-string necks have 22 frets
TRIPLET_MORE = 2  # notes of a triplet after the first
DRONE_FRET = 5  # where the short string begins; its frets are counted along the neck like all others


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

    # Each member is there once; the hash that Enum has is the slowest part of many a table of kinds.
    __hash__ = object.__hash__


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

    # Each member is there once; the hash that Enum has is the slowest part of many a table of kinds.
    __hash__ = object.__hash__

    @cached_property
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
        return self in (Kind.STRIKE, Kind.THUMB, Kind.DROP_THUMB) or self.hand is Hand.LEFT

    @property
    def least_fret(self) -> int:
        """The lowest fret that may be written: a hammer-on or a slide to the open string makes no sound."""
        if self is Kind.THUMB:
            return DRONE_FRET + 1
        return 1 if self in (Kind.HAMMER_ON, Kind.SLIDE) else 0

    @property
    def may_be_muted(self) -> bool:
        """Whether the left hand may damp what this kind sounds: the nail's strokes alone."""
        return self.hand is Hand.NAIL

    @property
    def may_be_slid_into(self) -> bool:
        """Whether the left hand may slide up or down into what this kind sounds."""
        return self in (Kind.STRIKE, Kind.DROP_THUMB)

    @cached_property
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
    Kind.DROP_THUMB: LONG_STRINGS,
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
        muted: damped by the left hand lying on the strings: a knock with little pitch.
        slid_from: a fret from which the left hand slides quickly to ``fret`` as the string is sounded, before
            the ear has the note; None for no slide.
        triplet: frets of two more notes on the same string, hammered on where they rise and pulled off where
            they fall, that part the beat with this one in three equal pieces; empty for none.
    """

    kind: Kind
    strings: tuple[int, ...] = ()
    fret: int | None = None
    accented: bool = False
    frets: tuple[int, ...] = ()
    muted: bool = False
    slid_from: int | None = None
    triplet: tuple[int, ...] = ()

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
        if kind is Kind.THUMB and self.fret is not None and self.fret < kind.least_fret:
            raise ValueError(f"{kind.value} cannot be at fret {self.fret}")
        if self.frets and not (
            kind is Kind.BRUSH
            and len(self.frets) == len(self.strings)
            and all(0 <= fret <= HIGHEST_FRET for fret in self.frets)
        ):
            raise ValueError(f"{kind.value} of strings {self.strings} cannot be at frets {self.frets}")
        if self.accented and not kind.sounds:
            raise ValueError(f"a {kind.value} is silent and cannot be accented")
        if self.muted and not (kind.may_be_muted and self.slid_from is None and not self.triplet):
            raise ValueError(f"a {kind.value} cannot be muted")
        if self.slid_from is not None and not (
            kind.may_be_slid_into and 1 <= self.slid_from <= HIGHEST_FRET and self.fret not in (None, 0)
        ):
            raise ValueError(f"a {kind.value} at fret {self.fret} cannot be slid into from {self.slid_from}")
        if self.slid_from is not None and self.slid_from == self.fret:
            raise ValueError(f"a slide from fret {self.fret} to itself is none")
        if self.triplet and not is_triplet(self.fret or 0, self.triplet, kind):
            raise ValueError(f"{kind.value} at fret {self.fret} cannot begin the triplet {self.triplet}")

    @property
    def hand(self) -> Hand:
        """The hand that makes the sound."""
        return self.kind.hand

    @property
    def all_frets(self) -> tuple[int, ...]:
        """The fret of each string, in the order of ``strings``; 0 where the pattern doesn't say."""
        return self.frets or (self.fret or 0,) * len(self.strings)

    @property
    def last_frets(self) -> tuple[int, ...]:
        """The fret of each string when the stroke is over, in the order of ``strings``."""
        return self.triplet[-1:] or self.all_frets


def is_triplet(fret: int, more: tuple[int, ...], kind: Kind) -> bool:
    """Return whether two more frets make a triplet of a stroke: each another fret than the one before."""
    frets = (fret, *more)
    return (
        kind is Kind.STRIKE
        and len(more) == TRIPLET_MORE
        and all(0 <= each <= HIGHEST_FRET for each in more)
        and all(a != b for a, b in pairwise(frets))
    )


def left_hand_kind(before: int, fret: int) -> Kind:
    """Return what the left hand does to bring a ringing string from one fret to another."""
    return Kind.HAMMER_ON if fret > before else Kind.PULL_OFF
