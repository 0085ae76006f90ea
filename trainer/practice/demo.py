"""Say what the demonstration plays: one figure, one tempo, one simulated player with plain faults."""

from __future__ import annotations

from fractions import Fraction

from trainer.music.strokes import Kind
from trainer.practice.faults import Faults

DEMO_PATTERN = "one-basic-one-skip"
DEMO_BPM = Fraction(90)
DEMO_PASSES = 8
DEMO_SEED = 1
DEMO_FAULTS = Faults(
    lean_s=((Kind.THUMB, 0.012),),
    jitter_s=0.009,
    rush_gap_s=0.055,
    touch_skips=0.25,
    miss=0.03,
    stray=0.02,
    wrong_hand=0.02,
)
