"""Name chords by number, so that one chart serves any key, capo and tuning.

Numbers count the degrees of the major scale on the key's note, in a minor key too: 1, 4, 5, 6- (minor), b7 (a
half step lower). A chord may have a seventh (``5^7``, ``2-7``, ``1maj7``), be diminished (``7dim``) or
suspended (``4sus4``, ``1sus2``), and have another note in the bass (``1/3``); ``no chord`` is silence under
the tune. That chords are spoken of in this way is common practice, no source; which notes belong to a degree
follows from the major scale, half steps 0 2 4 5 7 9 11.
"""

from __future__ import annotations

import enum
from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate, groupby

Beats = int | Fraction
"""A length in beats: a whole number where it is one."""

MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
MINOR_MARK = "-"
BASS_MARK = "/"
SHIFT_MARKS = {-1: "b", 0: "", 1: "#"}
NO_CHORD_WORDS = "no chord"


class Mode(enum.Enum):
    """The scale of a key; the value is the word that a file uses."""

    MAJOR = "major"
    MINOR = "minor"
    DORIAN = "dorian"
    MIXOLYDIAN = "mixolydian"

    @property
    def scale(self) -> tuple[int, ...]:
        """Half steps of its seven notes above the note called 1."""
        return _SCALES[self]

    @property
    def fifths(self) -> int:
        """How many sharps more (flats fewer) its signature has than that of the major key on its note."""
        return _FIFTHS[self]


_SCALES = {
    Mode.MAJOR: MAJOR_SCALE,
    Mode.MINOR: (0, 2, 3, 5, 7, 8, 10),
    Mode.DORIAN: (0, 2, 3, 5, 7, 9, 10),
    Mode.MIXOLYDIAN: (0, 2, 4, 5, 7, 9, 10),
}
_FIFTHS = {Mode.MAJOR: 0, Mode.MINOR: -3, Mode.DORIAN: -2, Mode.MIXOLYDIAN: -1}


class Tones(enum.Enum):
    """What a chord has besides, or in place of, its root, third and fifth."""

    TRIAD = "triad"
    SEVENTH = "seventh"
    MAJOR_SEVENTH = "major seventh"
    DIMINISHED = "diminished"
    SUSPENDED = "suspended"
    SUSPENDED_SECOND = "suspended second"


TONE_MARKS = {
    Tones.TRIAD: "",
    Tones.SEVENTH: "^7",
    Tones.MAJOR_SEVENTH: "maj7",
    Tones.DIMINISHED: "dim",
    Tones.SUSPENDED: "sus4",
    Tones.SUSPENDED_SECOND: "sus2",
}
_INTERVALS = {
    Tones.TRIAD: (0, 4, 7),
    Tones.SEVENTH: (0, 4, 7, 10),
    Tones.MAJOR_SEVENTH: (0, 4, 7, 11),
    Tones.DIMINISHED: (0, 3, 6),
    Tones.SUSPENDED: (0, 5, 7),
    Tones.SUSPENDED_SECOND: (0, 2, 7),
}
_WITH_MINOR = (Tones.TRIAD, Tones.SEVENTH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Degree:
    """A note by number: a degree of the major scale, 1 to 7, shifted by -1, 0 or 1 half steps."""

    degree: int
    shift: int = 0

    def __post_init__(self) -> None:
        """Refuse a note that has no number (a broken promise in our code, not user input)."""
        if not 1 <= self.degree <= len(MAJOR_SCALE) or self.shift not in SHIFT_MARKS:
            raise ValueError(f"no note has the number {self.degree} shifted by {self.shift}")

    @property
    def words(self) -> str:
        """The note as it is written: ``3``, ``b7``."""
        return f"{SHIFT_MARKS[self.shift]}{self.degree}"

    @property
    def half_steps(self) -> int:
        """Half steps from the key's note up to it, 0 to 11."""
        return (MAJOR_SCALE[self.degree - 1] + self.shift) % 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Chord:
    """A chord by number, or none.

    Attributes:
        degree: 1 to 7.
        shift: -1 for a flat before the number, 1 for a sharp, 0 for neither.
        minor: whether its third is the small one.
        tones: seventh, diminished, suspended, or the plain triad.
        bass: the lowest note, where it is not the root.
        silent: no chord at all: nobody plays one; everything else is then as for a plain 1.
    """

    degree: int
    shift: int = 0
    minor: bool = False
    tones: Tones = Tones.TRIAD
    bass: Degree | None = None
    silent: bool = False

    def __post_init__(self) -> None:
        """Refuse a chord that has no number (a broken promise in our code, not user input)."""
        Degree(degree=self.degree, shift=self.shift)
        if self.minor and self.tones not in _WITH_MINOR:
            raise ValueError(f"a minor chord is not {self.tones.value}")
        if self.silent and (self.degree, self.shift, self.minor, self.tones, self.bass) != _PLAIN_ONE:
            raise ValueError("no chord has no number, no third and no bass")

    @property
    def words(self) -> str:
        """The chord as it is written: ``1``, ``6-``, ``b7``, ``5^7``, ``1/3``, ``no chord``."""
        if self.silent:
            return NO_CHORD_WORDS
        mark = TONE_MARKS[self.tones]
        mark = mark.removeprefix("^") if self.minor else mark
        bass = "" if self.bass is None else f"{BASS_MARK}{self.bass.words}"
        return f"{SHIFT_MARKS[self.shift]}{self.degree}{MINOR_MARK if self.minor else ''}{mark}{bass}"

    @property
    def root(self) -> int:
        """Half steps from the key's note up to the chord's root, 0 to 11."""
        return (MAJOR_SCALE[self.degree - 1] + self.shift) % 12

    @property
    def lowest(self) -> int:
        """Half steps from the key's note up to what a bass plays: the root unless another is named."""
        return self.root if self.bass is None else self.bass.half_steps

    @property
    def intervals(self) -> tuple[int, ...]:
        """Half steps from the chord's root to its root, third (or what stands for it), fifth, and seventh."""
        root, third, *rest = _INTERVALS[self.tones]
        return (root, third - 1 if self.minor else third, *rest)


_PLAIN_ONE = (1, 0, False, Tones.TRIAD, None)
NO_CHORD = Chord(degree=1, silent=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChordSpan:
    """One chord for some beats: whole ones, or parts of one where it changes inside a beat."""

    chord: Chord
    beats: Beats


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """The chords of one pass of a tune, in order.

    Attributes:
        key: the note called 1 as it sounds, such as ``A`` or ``Bb``.
        spans: at least one; together as long as the pattern that is played over them. Neighbours with the
            same chord become one span, so that every start of a span but the first is a change.
        mode: the key's scale.
        starts: the beat at which each span begins, from 0.
        beats: length in beats, always whole.
    """

    key: str
    spans: tuple[ChordSpan, ...]
    mode: Mode = Mode.MAJOR
    starts: tuple[Beats, ...] = field(init=False, repr=False, compare=False)
    beats: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Join neighbours that have the same chord."""
        joined = tuple(
            ChordSpan(chord=chord, beats=_plain(sum((span.beats for span in spans), Fraction(0))))
            for chord, spans in groupby(self.spans, key=lambda span: span.chord)
        )
        *starts, end = accumulate((span.beats for span in joined), initial=Fraction(0))
        object.__setattr__(self, "spans", joined)
        object.__setattr__(self, "starts", tuple(map(_plain, starts)))
        object.__setattr__(self, "beats", int(end))

    @property
    def key_words(self) -> str:
        """The key as people say it: ``A``, ``A minor``."""
        return self.key if self.mode is Mode.MAJOR else f"{self.key} {self.mode.value}"

    def span_index(self, beat: Fraction | float) -> int:
        """Return which span a beat lies in; the chart goes round, so any beat from 0 on will do."""
        return bisect_right(self.starts, beat % self.beats) - 1

    def chord_at(self, beat: Fraction | float) -> Chord:
        """Return the chord at a beat from 0 on; a beat on a change has the new chord."""
        return self.spans[self.span_index(beat)].chord


def _plain(beats: Beats) -> Beats:
    return int(beats) if beats == int(beats) else beats
