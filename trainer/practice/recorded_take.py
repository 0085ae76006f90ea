"""Make a take for the records out of one that was recorded elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trainer.judging.pocket import Pocket
from trainer.judging.take import Tap
from trainer.music.layout import Feel
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.stored_take import StoredTake, reached, summarised


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedBy:
    """Who played a recorded take, and when.

    Attributes:
        player: as in the records.
        begun: UTC, ISO 8601 to the microsecond with a final Z.
        day: the player's own date then, as a proleptic ordinal.
        source: name of the file, which stands where the input's name stands.
    """

    player: str
    begun: str
    day: int
    source: str


def recorded_take(
    by: RecordedBy,
    pattern: Pattern,
    taps: tuple[Tap, ...],
    *,
    bpm: Fraction,
    passes: int | None,
    feel: Feel,
    pocket: Pocket,
    knows_left: bool,
) -> StoredTake:
    """Return a recorded take as it is kept, judged by the click.

    Args:
        taps: seconds from beat 0.
        passes: how often it was asked; None for as far as the taps go.
    """
    take = StoredTake(
        player=by.player,
        begun=by.begun,
        day=by.day,
        pattern=pattern,
        timeline=Timeline.steady(bpm),
        passes=passes or 1,
        slots_asked=(passes or 1) * len(pattern.strokes),
        feel=feel,
        pocket=pocket,
        input_name=by.source,
        knows_left=knows_left,
        taps=taps,
    )
    return summarised(take if passes is not None else reached(take))
