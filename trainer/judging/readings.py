"""Name the ways in which a whole take can have been played, and hold what is said of one."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class ReadingKind(enum.Enum):
    """The ways in which a take can have been played; the value is the word in reports."""

    AS_ASKED = "as asked"
    SWUNG = "swung"
    EARLY = "early"
    LATE = "late"
    SLOT_EARLY = "a slot early"
    SLOT_LATE = "a slot late"
    BEAT_EARLY = "a beat early"
    BEAT_LATE = "a beat late"
    BAR_EARLY = "a bar early"
    BAR_LATE = "a bar late"
    TWO_BARS_EARLY = "two bars early"
    TWO_BARS_LATE = "two bars late"
    OTHER_TEMPO = "other tempo"
    HALF_TIME = "half time"
    DOUBLE_TIME = "double time"
    DRIFTING_TEMPO = "drifting tempo"
    BAR_DROPPED = "a bar dropped"
    BAR_REPEATED = "a bar repeated"
    LOST_PLACE = "lost the place"
    BEGUN_LATE = "begun late"
    STOPPED_EARLY = "stopped early"
    PADS_EXCHANGED = "pads exchanged"
    ONE_HAND_ONLY = "one hand only"
    ANOTHER_FIGURE = "another figure"
    NOTHING_FITS = "nothing fits"
    NOTHING_PLAYED = "nothing played"

    @property
    def is_as_asked(self) -> bool:
        """Whether the figure was played where it was asked, swung or not."""
        return self in (ReadingKind.AS_ASKED, ReadingKind.SWUNG)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """How a whole take was played.

    Attributes:
        kind: in which way.
        sentence: what to say to the player: what was played, and one thing to do.
        amount: how much, in ``unit``; None where the kind has no size.
        unit: ms, slots, beats, bars, beats a minute, to 1, taps a second; empty with ``amount`` None.
        margin: nats by which this is better than the next best reading (about log odds).
        also: further kinds that hold with it, such as exchanged pads in a take that is a bar late.
        figure: name of the figure played, where it is another; empty elsewhere.
    """

    kind: ReadingKind
    sentence: str
    amount: float | None = None
    unit: str = ""
    margin: float = 0.0
    also: tuple[ReadingKind, ...] = ()
    figure: str = ""

    @property
    def says_something(self) -> bool:
        """Whether there is something to say before all else."""
        return self.kind is not ReadingKind.AS_ASKED or self.amount is not None
