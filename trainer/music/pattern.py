"""Hold a pattern: bars of strokes on a grid of down and up slots.

A beat is a quarter note in 2/4, 3/4 and 4/4 and a dotted quarter in 6/8 and 9/8, so a bar of 6/8 has two
beats of three slots. With two or four slots to the beat the hand falls and rises in turn. With three
it falls, falls again and rises, so that every beat begins with a falling hand (common practice, no
source); a pattern may state another motion for its bar.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.chart import Chart
from trainer.music.form import Part
from trainer.music.strokes import Kind, Motion, Stroke
from trainer.music.tuning import OPEN_G, Tuning

MAX_BARS = 64
MAX_STROKES = 1024
SLOWEST_BPM = Fraction(20)
FASTEST_BPM = Fraction(400)
MAX_TITLE = 80
MAX_TEACHER = 400


class Meter(enum.Enum):
    """The meters that a pattern can have."""

    TWO_FOUR = "2/4"
    THREE_FOUR = "3/4"
    FOUR_FOUR = "4/4"
    SIX_EIGHT = "6/8"
    NINE_EIGHT = "9/8"

    @property
    def beats(self) -> int:
        """Beats in a bar: the clicks that a player taps a foot to."""
        return {"2/4": 2, "3/4": 3, "4/4": 4, "6/8": 2, "9/8": 3}[self.value]

    @property
    def is_compound(self) -> bool:
        """Whether a beat is a dotted quarter and falls into three."""
        return self in (Meter.SIX_EIGHT, Meter.NINE_EIGHT)

    @property
    def slots_per_beat_choices(self) -> tuple[int, ...]:
        """How finely a beat may be divided."""
        return (3,) if self.is_compound else (2, 3, 4)

    @property
    def beat_quarters(self) -> Fraction:
        """Length of one beat in quarter notes, for Standard MIDI Files."""
        return Fraction(3, 2) if self.is_compound else Fraction(1)


class Level(enum.Enum):
    """How much is asked; the value is the word that a pattern file uses."""

    PLAIN = "plain"
    ORNAMENTS = "ornaments"
    SKIPS = "skips"


def usual_motion(meter: Meter, slots_per_beat: int) -> tuple[Motion, ...]:
    """Return the way the hand travels through each slot of one bar, unless the pattern says other."""
    down, up = Motion.DOWN, Motion.UP
    beat = {2: (down, up), 3: (down, down, up), 4: (down, up, down, up)}[slots_per_beat]
    return beat * meter.beats


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """A figure to drill.

    Attributes:
        name: the file's stem, by which other patterns and the command line call it.
        title: what the library shows.
        level: how much is asked.
        step: place in the course, 1 first.
        meter, slots_per_beat: the grid.
        motion: the hand's way through each slot of a bar, length ``slots_per_bar``.
        bars: strokes by bar, each of length ``slots_per_bar``.
        needs: names of the patterns that should be clean before this one.
        slow_bpm, goal_bpm: where to begin and where to arrive first, in beats a minute.
        teacher: one sentence to say to a class.
        chart: the chords under one pass, ``beats`` long; None for a figure that is drilled without chords.
        tuning: the pitches of the strings, with the capo.
        playing_bpm: as fast as it is played in company, at least ``goal_bpm``; None where nobody says.
        parts: the form, where there is one: together as long as ``bars``.
    """

    name: str
    title: str
    level: Level
    step: int
    meter: Meter
    slots_per_beat: int
    motion: tuple[Motion, ...]
    bars: tuple[tuple[Stroke, ...], ...]
    needs: tuple[str, ...]
    slow_bpm: Fraction
    goal_bpm: Fraction
    teacher: str
    chart: Chart | None = None
    tuning: Tuning = OPEN_G
    playing_bpm: Fraction | None = None
    parts: tuple[Part, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a form of another length (a broken promise in our code, not user input)."""
        if self.parts and sum(part.played for part in self.parts) != len(self.bars):
            raise ValueError(f"the parts of {self.name} are not as long as its {len(self.bars)} bars")

    @property
    def fastest_bpm(self) -> Fraction:
        """The playing tempo, or the first goal where no playing tempo is known."""
        return self.goal_bpm if self.playing_bpm is None else self.playing_bpm

    @property
    def pickup(self) -> int:
        """Slots at the end of a pass that lead into the next; before the first they lie in the count-in."""
        return self.parts[0].pickup if self.parts else 0

    @property
    def slots_per_bar(self) -> int:
        """Slots in one bar."""
        return self.meter.beats * self.slots_per_beat

    @property
    def beats(self) -> int:
        """Beats in one pass."""
        return self.meter.beats * len(self.bars)

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """All strokes of one pass, rests included, in order."""
        return tuple(stroke for bar in self.bars for stroke in bar)

    @property
    def has_left_hand(self) -> bool:
        """Whether any stroke is sounded by the left hand."""
        return any(s.kind in (Kind.HAMMER_ON, Kind.PULL_OFF, Kind.SLIDE) for s in self.strokes)
