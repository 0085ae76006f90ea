"""Hold a pattern that asks for nothing, so that only its clicks are heard."""

from __future__ import annotations

from fractions import Fraction

from trainer.music.pattern import Level, Meter, Pattern, usual_motion
from trainer.music.strokes import Kind, Stroke

METER = Meter.TWO_FOUR


def click_pattern() -> Pattern:
    """Return it; what its tempo is, whoever plays it says."""
    motion = usual_motion(METER, 2)
    return Pattern(
        name="calibration",
        title="Clicks",
        level=Level.PLAIN,
        step=1,
        meter=METER,
        slots_per_beat=2,
        motion=motion,
        bars=((Stroke(kind=Kind.REST),) * len(motion),),
        needs=(),
        slow_bpm=Fraction(60),
        goal_bpm=Fraction(100),
        teacher="",
    )
