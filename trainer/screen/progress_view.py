"""Say what the scenes of progress need to know: the pictures, the list of takes, and one take again."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from fractions import Fraction

from trainer.screen.views import DrillView, Window


class Picture(enum.Enum):
    """Which picture; the value is its heading."""

    TEMPO = "fastest clean tempo"
    SPREAD = "spread"
    MINUTES = "minutes a day"


@dataclass(frozen=True, slots=True)
class DayValue:
    """One day's value; ``day`` is the date's ordinal."""

    day: int
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedRow:
    """A pattern in the list: its title, and what there is to say of it in a few words."""

    title: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressView:
    """The pictures of one player.

    Attributes:
        player: a name, or empty when nobody said who plays.
        rows: the patterns played, the latest first; ``selected`` is a place in them.
        picture: which one is shown; ``values`` are its points in order of days: beats a minute, milliseconds
            or minutes.
        slow, goal: the pattern's own tempi; None where it is not in the library any more.
        at_bpm: the tempo at which the spread is shown.
        today: ordinal of the date.
    """

    window: Window
    player: str = ""
    rows: tuple[PlayedRow, ...] = ()
    selected: int = 0
    picture: Picture = Picture.TEMPO
    values: tuple[DayValue, ...] = ()
    slow: float | None = None
    goal: float | None = None
    at_bpm: Fraction | None = None
    today: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeLine:
    """A take in a list.

    Attributes:
        when: date and time of day, in words.
        tempo: its tempo or tempi.
        result: strokes as asked, in words.
        spread: in words, empty when it cannot be said.
        counts: False for one that was not graded.
    """

    when: str
    tempo: str
    result: str
    spread: str
    counts: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TakesView:
    """The takes of one pattern, the newest first."""

    window: Window
    title: str
    lines: tuple[TakeLine, ...] = ()
    selected: int = 0
    more: bool = False
    can_undo: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainView:
    """One take played again: the sheet as it was, and which take it is.

    Attributes:
        line: the take.
        over: whether it is over.
    """

    window: Window
    drill: DrillView
    line: TakeLine
    over: bool = False
