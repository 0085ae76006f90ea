"""Climb a ladder while a drill runs: judge each pass that is over, and say when the tempo changes."""

from __future__ import annotations

from fractions import Fraction

from trainer.music.pattern import Pattern
from trainer.practice.drill import Drill
from trainer.practice.ladder import Ladder, LadderKind, ladder_for
from trainer.practice.passes import LOOKED_BACK, pass_played


class Climb:
    """One way up.

    Attributes:
        ladder: where the player stands.
    """

    def __init__(self, kind: LadderKind, pattern: Pattern, bpm: Fraction) -> None:
        self._kind = kind
        self.ladder = _ladder(kind, pattern, bpm)
        self._judged = 0  # passes that are over

    @property
    def words(self) -> str:
        """How it stands, in a few words."""
        return self.ladder.in_words()

    def moved_by_hand(self, pattern: Pattern, bpm: Fraction) -> None:
        """Begin anew from a tempo that the player has chosen."""
        self.ladder = _ladder(self._kind, pattern, bpm)

    def counts_from(self, beat: Fraction, pattern: Pattern) -> None:
        """Leave out the passes before a beat, from which another tempo holds."""
        self._judged = int(beat / pattern.beats)

    def after_passes(self, drill: Drill) -> Fraction | None:
        """Judge the next pass if it is over; return the tempo to go on with, or None for the same."""
        done = drill.pass_outcomes(self._judged)
        if not done:
            return None
        at, before = self._judged, self.ladder.bpm
        back = [o for n in range(max(0, at - LOOKED_BACK), at) for o in drill.pass_outcomes(n)]
        self._judged += 1
        self.ladder = self.ladder.after(pass_played(done, before, before=back, strays=drill.strays))
        return self.ladder.bpm if self.ladder.bpm != before else None


def _ladder(kind: LadderKind, pattern: Pattern, bpm: Fraction) -> Ladder:
    ladder = ladder_for(kind, pattern, bpm)
    if ladder is None:
        raise ValueError("nothing climbs with the ladder off")
    return ladder
