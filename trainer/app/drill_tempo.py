"""Move the tempo of a drill that runs, by hand or up the ladder; all that goes by it follows."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from trainer.app.climbing import Climb
from trainer.app.context import Context
from trainer.app.drill_begun import climb_of
from trainer.app.drill_request import DrillRequest
from trainer.practice.drill import Drill, DrillMoment
from trainer.screen.actions import Action


class DrillTempo:
    """The tempo of one drill.

    Attributes:
        climb: the way up the ladder; None without one.
        next_bpm: a tempo that begins with a coming pass; None for none.
    """

    def __init__(self, context: Context, request: DrillRequest, drill: Drill) -> None:
        self._context = context
        self._drill = drill
        self.climb: Climb | None = climb_of(context, request)
        self.next_bpm: Fraction | None = None
        self._next_beat = Fraction(0)

    def reached(self, moment: DrillMoment) -> None:
        """Take note of how far the drill has come: a tempo that has begun comes no more."""
        if self.next_bpm is not None and moment.beat >= self._next_beat:
            self.next_bpm = None

    def by_hand(self, request: DrillRequest, action: Action, song_s: float) -> DrillRequest:
        """Change the tempo as a key asks for; return what is drilled from then on.

        Args:
            song_s: where the drill stands.
        """
        bpm = self._context.change_tempo(request.pattern, request.bpm, action)
        if bpm is None:
            return request
        if self.climb is not None:
            self.climb.moved_by_hand(request.pattern, bpm)
        return self._changed(request, bpm, song_s)

    def up_the_ladder(self, request: DrillRequest, song_s: float) -> DrillRequest:
        """Judge the passes that are over, and move on the ladder; return what is drilled from then on."""
        bpm = self.climb.after_passes(self._drill) if self.climb is not None else None
        return request if bpm is None else self._changed(request, bpm, song_s)

    def _changed(self, request: DrillRequest, bpm: Fraction, song_s: float) -> DrillRequest:
        """Let another tempo begin with a coming pass; passes until then are not counted on the ladder."""
        self.next_bpm = bpm
        self._next_beat = self._drill.change_tempo(bpm, song_s)
        if self.climb is not None:
            self.climb.counts_from(self._next_beat, self._drill.settings.pattern)
        self._context.playback.set_timeline(self._drill.timeline)
        if self._context.recorder is not None:
            self._context.recorder.retempo(self._drill.timeline)
        return replace(request, bpm=bpm)
