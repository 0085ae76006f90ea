"""Say what is to be drilled."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.music.pattern import Pattern

if TYPE_CHECKING:
    from trainer.practice.faults import Faults


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillRequest:
    """What is to be drilled.

    Attributes:
        hands: the faults of the simulated hands that play; None for a player.
        whole: what this was cut out of, to go back to when it is clean; None where it is whole.
        player: whose take it is; None for the player of the settings.
    """

    pattern: Pattern
    bpm: Fraction
    passes: int
    hands: Faults | None = None
    player: str | None = None
    whole: DrillRequest | None = None
