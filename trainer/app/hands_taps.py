"""Say what simulated hands will tap in a drill."""

from __future__ import annotations

import numpy as np

from trainer.app.drill_request import DrillRequest
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.practice.drill import Drill
from trainer.practice.hands import simulate

HANDS_SEED = 1


def hands_taps(request: DrillRequest, drill: Drill) -> list[Tap]:
    """Return what the simulated hands will play; the left hand's strokes the program plays itself."""
    assert request.hands is not None
    asked = lay_out(request.pattern, drill.timeline, passes=request.passes, feel=drill.settings.feel)
    right = [t for t in asked if t.stroke.hand is not Hand.LEFT]
    rng = np.random.default_rng(HANDS_SEED)
    return list(simulate(right, request.hands, rng, chart=request.pattern.chart).taps)
