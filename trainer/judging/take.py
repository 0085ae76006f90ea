"""Hold what a player did and what was made of it.

Sign: an error is tap minus target; late is positive, early negative. Seconds count from beat 0.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

from trainer.judging.readings import Reading
from trainer.music.layout import Target
from trainer.music.strokes import Hand


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """One touch of a pad or a key.

    Attributes:
        song_s: when, in seconds from beat 0, calibration already taken off.
        hand: whose touch it was; None where the input cannot know (one pad only).
        string: which string was meant; None where the input cannot know.
        velocity: 1 to 127, None where the input has none (computer keys).
        uncertainty_s: the true moment lies within this of ``song_s``, either way.
    """

    song_s: float
    hand: Hand | None = None
    string: int | None = None
    velocity: int | None = None
    uncertainty_s: float = 0.0


class Verdict(enum.Enum):
    """What was made of a stroke (or, for STRAY, of a tap that no stroke asked for)."""

    IN_TIME = "in time"
    EARLY = "early"
    LATE = "late"
    MISSED = "missed"
    WRONG_HAND = "wrong hand"
    WRONG_STRING = "wrong string"
    STRAY = "stray"
    KEPT_SILENT = "kept silent"
    TOUCHED = "touched"
    NOT_JUDGED = "not judged"

    @property
    def is_clean(self) -> bool:
        """Whether the stroke was played as asked: in time, or a skip kept silent."""
        return self in (Verdict.IN_TIME, Verdict.KEPT_SILENT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One target and what became of it.

    Attributes:
        target: what was asked.
        tap: the tap given to it; None when missed, kept silent or not judged.
        tap_index: place of that tap in the take, None with ``tap``.
        placement_s: tap minus target in seconds, late positive; None without a tap.
        verdict: what was made of it.
        rushed_gap: the stroke came early because the silent gap before it was cut short.
    """

    target: Target
    tap: Tap | None
    tap_index: int | None
    placement_s: float | None
    verdict: Verdict
    rushed_gap: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """A whole take, judged.

    Attributes:
        outcomes: one for each target that is not a rest, in order.
        strays: indices of the taps that no stroke asked for, ascending.
        taps: all taps, in order of time.
        pocket_s: half-width of the pocket for each outcome, same length as ``outcomes``.
        reading: how the take was played as a whole; None when it was not read.
        under: the same take judged under its reading, where that is another than what was asked.
    """

    outcomes: tuple[Outcome, ...]
    strays: tuple[int, ...]
    taps: tuple[Tap, ...]
    pocket_s: tuple[float, ...]
    reading: Reading | None = None
    under: Judgement | None = None

    @property
    def told(self) -> Judgement:
        """The judgement to be shown: under the reading, where there is one."""
        return self.under or self
