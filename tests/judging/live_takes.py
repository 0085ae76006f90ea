"""A player with every fault at once, and how finely a drill looks at it."""

import random

from tests.judging.helpers import tap
from trainer.judging.take import Tap
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind

STEP_S = 0.010


def sloppy_take(targets: tuple[Target, ...], rng: random.Random) -> list[Tap]:
    """A player with every fault at once."""
    jitter_s = rng.choice([0.005, 0.02, 0.05, 0.1])
    one_pad = rng.random() < 0.3
    taps = []
    for target in targets:
        at = target.song_s + rng.gauss(0, jitter_s)
        hand: Hand | None = target.stroke.hand
        if rng.random() < 0.05:
            hand = rng.choice([Hand.NAIL, Hand.THUMB])
        if target.stroke.kind is Kind.SKIP:
            hand = Hand.NAIL
        chance = 0.93 if target.stroke.kind.sounds else 0.2 if target.stroke.kind is Kind.SKIP else 0.03
        if rng.random() < chance:
            taps.append(tap(at, None if one_pad or hand is Hand.NONE else hand))
            if rng.random() < 0.05:
                taps.append(tap(at + rng.uniform(0, 0.2)))
    return taps
