"""Play a drill from start to end without a stage, for the tests of what keeps it."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult
from trainer.judging.statistics import by_slot, summarise
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate


@dataclass
class Playing:
    """A drill that runs, and how it is ended."""

    run: DrillRequest
    drill: Drill

    def ended(
        self, *, stop_s: float | None = None, not_graded: str = "", click_off: bool = False
    ) -> DrillResult:
        """Let it run to its end, or stop it."""
        if stop_s is None:
            assert self.drill.end_s is not None
            self.drill.advance(self.drill.end_s)
            judgement = self.drill.judgement()
        else:
            self.drill.advance(stop_s)
            judgement = self.drill.stop(stop_s)
        return DrillResult(
            request=self.run,
            bpm=self.run.bpm,
            passes=len({o.target.pass_index for o in judgement.outcomes}),
            drill=self.drill,
            judgement=judgement,
            slots=by_slot(judgement),
            summary=summarise(judgement),
            drift=None,
            swing=None,
            findings=(),
            not_graded=not_graded,
            click_off=click_off,
        )


def begin(pattern: Pattern, *, bpm: int = 120, passes: int = 4, hands: Faults | None = None) -> Playing:
    run = DrillRequest(pattern=pattern, bpm=Fraction(bpm), passes=passes, hands=hands)
    return Playing(run, Drill(DrillSettings(pattern=pattern, bpm=run.bpm, passes=passes, knows_left=True)))


def taps_for(
    pattern: Pattern, timeline: Timeline, *, passes: int = 4, jitter_s: float = 0.012, seed: int = 1
) -> tuple[Tap, ...]:
    """What a player of this unsteadiness taps."""
    targets = lay_out(pattern, timeline, passes=passes)
    return tuple(simulate(targets, Faults(jitter_s=jitter_s), np.random.default_rng(seed)).taps)


def play(playing: Playing, taps: Iterable[Tap]) -> None:
    for tap in taps:
        playing.drill.tap(tap)
        playing.drill.advance(tap.song_s)
