"""Say which clicks are left out on purpose, so that the player keeps time alone for a while.

Bars are counted from the first beat on, through all passes. In a silent bar nothing is heard that the
program plays by itself, neither click nor band nor the strokes of the left hand: else it would be none.
The count-in always sounds.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

from trainer.errors import BadSettings
from trainer.music.named import named
from trainer.music.pattern import Meter
from trainer.music.strokes import Motion

MOST_BARS = 16


class Thin(enum.Enum):
    """Which clicks are heard; each value is the word that the settings keep."""

    NOTHING = "every beat"
    FIRST = "first of the bar"
    EVERY_OTHER = "every other beat"
    OFF_BEATS = "off beats"
    OFF_SLOTS = "off slots"
    UP_SLOTS = "up slots"
    SILENT_BARS = "off for N bars in M"


@dataclass(frozen=True, slots=True, kw_only=True)
class Thinning:
    """Which clicks are left out.

    Attributes:
        thin: how.
        off, of: for SILENT_BARS: of every ``of`` bars the last ``off`` are silent.
    """

    thin: Thin = Thin.NOTHING
    off: int = 2
    of: int = 4

    def __post_init__(self) -> None:
        """Refuse silences that would have no end or no begin."""
        if not 1 <= self.off < self.of <= MOST_BARS:
            raise BadSettings(
                f"found a click that is off for {self.off} bars in {self.of}",
                f"let it be off for at least 1, and for fewer than it takes in all, at most {MOST_BARS}",
            )

    @property
    def is_between(self) -> bool:
        """Whether it clicks between the beats, where every click must carry as a beat's does."""
        return self.thin in (Thin.OFF_SLOTS, Thin.UP_SLOTS)

    @classmethod
    def named(cls, words: str, off: int = 2, of: int = 4) -> Thinning:
        """Return the thinning that the settings name.

        Raises:
            BadSettings: no thinning is called so, or the bars do not fit.
        """
        thin = named(Thin, words, "the click thinning")
        return cls(thin=thin, off=off, of=of) if thin is Thin.SILENT_BARS else cls(thin=thin)

    def is_silent(self, bar: int) -> bool:
        """Return whether nothing is heard in a bar, counted from 0 through all passes."""
        return self.thin is Thin.SILENT_BARS and bar >= 0 and bar % self.of >= self.of - self.off

    def silent_bars(self, bars: int) -> frozenset[int]:
        """Return which of the first ``bars`` bars are silent.

        >>> sorted(Thinning(thin=Thin.SILENT_BARS, off=1, of=4).silent_bars(9))
        [3, 7]
        """
        return frozenset(bar for bar in range(bars) if self.is_silent(bar))

    def clicks(self, meter: Meter, motion: tuple[Motion, ...], beat: int, slot: int) -> bool | None:
        """Return whether a slot of a beat from 0 on clicks; None where the usual rules decide.

        Args:
            motion: the hand's way through each slot of a bar.
            slot: slot in its beat.
        """
        bar, beat_in_bar = divmod(beat, meter.beats)
        if self.thin is Thin.FIRST:
            return beat_in_bar == 0 and slot == 0
        if self.thin is Thin.EVERY_OTHER:
            # Counted through the bars, so that in 3/4 it falls on one and three, then on two.
            return beat % 2 == 0 and slot == 0
        if self.thin is Thin.OFF_BEATS:
            return slot == 0 and (beat_in_bar > 0 if meter.beats == 3 else beat_in_bar % 2 == 1)
        slots = len(motion) // meter.beats
        if self.thin is Thin.OFF_SLOTS:
            return slot == halfway_slot(slots)
        if self.thin is Thin.UP_SLOTS:
            return motion[beat_in_bar * slots + slot] is Motion.UP
        return False if self.is_silent(bar) else None


def halfway_slot(slots_per_beat: int) -> int:
    """Return the slot between two beats: the middle one, and the last of three."""
    return 2 if slots_per_beat == 3 else slots_per_beat // 2


EVERY_BEAT = Thinning()
