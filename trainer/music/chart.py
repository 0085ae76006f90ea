"""Name chords by number, so that one chart serves any key, capo and tuning.

Numbers count the degrees of the major scale on the key's note: 1, 4, 5, 6- (minor), b7 (a half step
lower). That chords are spoken of in this way is common practice, no source; which notes belong to a degree
follows from the major scale, half steps 0 2 4 5 7 9 11.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, groupby

MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
MINOR_MARK = "-"
SHIFT_MARKS = {-1: "b", 0: "", 1: "#"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Chord:
    """A triad by number.

    Attributes:
        degree: 1 to 7.
        shift: -1 for a flat before the number, 1 for a sharp, 0 for neither.
        minor: whether its third is the small one.
    """

    degree: int
    shift: int = 0
    minor: bool = False

    def __post_init__(self) -> None:
        """Refuse a chord that has no number (a broken promise in our code, not user input)."""
        if not 1 <= self.degree <= len(MAJOR_SCALE) or self.shift not in SHIFT_MARKS:
            raise ValueError(f"no chord has the number {self.degree} shifted by {self.shift}")

    @property
    def words(self) -> str:
        """The chord as it is written: ``1``, ``6-``, ``b7``."""
        return f"{SHIFT_MARKS[self.shift]}{self.degree}{MINOR_MARK if self.minor else ''}"

    @property
    def root(self) -> int:
        """Half steps from the key's note up to the chord's root, 0 to 11."""
        return (MAJOR_SCALE[self.degree - 1] + self.shift) % 12

    @property
    def intervals(self) -> tuple[int, int, int]:
        """Half steps from the chord's root to its root, third and fifth."""
        return (0, 3 if self.minor else 4, 7)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChordSpan:
    """One chord for some whole beats."""

    chord: Chord
    beats: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """The chords of one pass of a tune, in order.

    Attributes:
        key: the note called 1 as it sounds, such as ``A`` or ``Bb``.
        spans: at least one; together as long as the pattern that is played over them. Neighbours with the
            same chord become one span, so that every start of a span but the first is a change.
    """

    key: str
    spans: tuple[ChordSpan, ...]

    def __post_init__(self) -> None:
        """Join neighbours that have the same chord."""
        joined = tuple(
            ChordSpan(chord=chord, beats=sum(span.beats for span in spans))
            for chord, spans in groupby(self.spans, key=lambda span: span.chord)
        )
        object.__setattr__(self, "spans", joined)

    @property
    def beats(self) -> int:
        """Length in beats."""
        return sum(span.beats for span in self.spans)

    @property
    def starts(self) -> tuple[int, ...]:
        """The beat at which each span begins, from 0."""
        return tuple(accumulate((span.beats for span in self.spans[:-1]), initial=0))

    def span_index(self, beat: Fraction | float) -> int:
        """Return which span a beat lies in; the chart goes round, so any beat from 0 on will do."""
        return bisect_right(self.starts, beat % self.beats) - 1

    def chord_at(self, beat: Fraction | float) -> Chord:
        """Return the chord at a beat from 0 on; a beat on a change has the new chord."""
        return self.spans[self.span_index(beat)].chord
