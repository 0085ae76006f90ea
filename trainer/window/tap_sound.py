"""Say what a tap sounds like, and what simulated hands will tap."""

from __future__ import annotations

import numpy as np

from trainer.devices.speaker import SpeakerLike
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand, Kind, Stroke
from trainer.practice.drill import Drill
from trainer.practice.hands import simulate
from trainer.sound.level import Samples
from trainer.sound.pluck import stroke_samples, touch_samples
from trainer.window.played import Run

HANDS_SEED = 1


def hands_taps(run: Run, drill: Drill) -> list[Tap]:
    """Return what the simulated hands will play; the left hand's strokes the program plays itself."""
    assert run.hands is not None
    asked = lay_out(run.pattern, drill.timeline, passes=run.passes, feel=drill.settings.feel)
    right = [t for t in asked if t.stroke.hand is not Hand.LEFT]
    return list(simulate(right, run.hands, np.random.default_rng(HANDS_SEED)).taps)


def stroke_near(drill: Drill, tap: Tap) -> Stroke | None:
    """Return the stroke that a tap most likely is, for its sound: the nearest that its hand makes.

    None for a tap on a skip, which sounds like a hand that touches.
    """
    nearest, away = None, 0.0
    for target in drill.targets_near(tap.song_s):
        stroke = target.stroke
        hand = Hand.NAIL if stroke.kind is Kind.SKIP else stroke.hand
        fits = hand is not Hand.NONE and tap.hand in (None, hand)
        if fits and (nearest is None or abs(target.song_s - tap.song_s) < away):
            nearest, away = stroke, abs(target.song_s - tap.song_s)
    if nearest is None:
        thumb = tap.hand is Hand.THUMB
        return Stroke(kind=Kind.THUMB if thumb else Kind.STRIKE, strings=(5 if thumb else 3,))
    return None if nearest.kind is Kind.SKIP else nearest


def tap_samples(drill: Drill, tap: Tap, level_db: float, speaker: SpeakerLike) -> Samples:
    """Return the sound of a tap: the string of the stroke that it most likely is."""
    stroke, plan = stroke_near(drill, tap), speaker.plan
    rate = plan.rate if plan is not None else speaker.rate
    return touch_samples(level_db, rate) if stroke is None else stroke_samples(stroke, level_db, rate)
