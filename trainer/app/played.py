"""Hold what was to be drilled, and a finished take with all that was made of it."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from fractions import Fraction

from trainer.judging.breakdown import Drift
from trainer.judging.changes import AroundChanges
from trainer.judging.statistics import SlotSummary, TakeSummary
from trainer.judging.swing import SwingPlayed, adopt
from trainer.judging.take import Judgement
from trainer.judging.two_level import CannotSplit, TwoLevels
from trainer.music.pattern import Pattern
from trainer.practice.drill import Drill
from trainer.practice.hands import Faults

LEAST_TAPS_FOR_DELAY = 16
SURE_DELAY_S = 0.010
LEAST_SWING = 0.15  # a smaller change of the ratio is not worth another target


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What is to be drilled.

    Attributes:
        hands: the faults of the simulated hands that play; None for a player.
        player: whose take it is; None for the player of the settings.
    """

    pattern: Pattern
    bpm: Fraction
    passes: int
    hands: Faults | None = None
    player: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """A finished take.

    Attributes:
        run: what was asked.
        bpm, passes: the tempo at the end and the passes begun.
        drill: the drill itself, for its taps and its timeline.
        judgement: what was made of it; ``slots``, ``summary``, ``drift``, ``swing`` and ``advice`` follow.
        not_graded: why it does not count, or an empty text.
        remarks: sentences about the devices during the take.
        messages: taps received from the count-in to the end.
        click_off: whether the click was off from the first stroke on; then ``levels`` splits timekeeper
            and hand, or says why it cannot.
        changes: the take taken apart by its chord changes; None without.
        in_silence: how time was kept in bars without a click, in words; empty without such bars.
    """

    run: Run
    bpm: Fraction
    passes: int
    drill: Drill
    judgement: Judgement
    slots: tuple[SlotSummary, ...]
    summary: TakeSummary
    drift: Drift | None
    swing: SwingPlayed | None
    advice: tuple[str, ...]
    not_graded: str = ""
    remarks: tuple[str, ...] = ()
    messages: int = 0
    click_off: bool = False
    levels: TwoLevels | CannotSplit | None = None
    changes: AroundChanges | None = None
    in_silence: str = ""

    @property
    def can_be_delay(self) -> bool:
        """Whether the mean placement is steady enough to be the delay of the devices.

        At least 16 taps, and the mean sure to 10 ms (Repp's and Aschersleben's findings warn that a
        player's own lead of some tens of ms is in it).
        """
        placed = self.summary.placement
        steady = placed.half_interval_s is not None and placed.half_interval_s <= SURE_DELAY_S
        return steady and placed.n >= LEAST_TAPS_FOR_DELAY and self.run.hands is None

    @property
    def adoptable_swing(self) -> Fraction | None:
        """The swing played, when the target can have it and would be another one."""
        asked = self.drill.settings.feel
        feel = adopt(asked, self.swing) if self.swing is not None else None
        return feel.swing if feel is not None and abs(feel.swing - asked.swing) >= LEAST_SWING else None

    @property
    def uncertainty_s(self) -> float:
        """The middle of the taps' uncertainties."""
        return statistics.median([tap.uncertainty_s for tap in self.judgement.taps] or [0.0])
