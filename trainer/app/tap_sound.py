"""Say what a tap sounds like."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.devices.speaker import SpeakerLike
from trainer.judging.take import Tap
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind, Stroke
from trainer.sound.gain import Samples
from trainer.sound.pluck import stroke_samples, touch_samples

if TYPE_CHECKING:
    from trainer.practice.drill import Drill

FULL_VELOCITY = 127  # of a key, which knows none


def target_near(drill: Drill, tap: Tap) -> Target | None:
    """Return the target that a tap most likely is for: the nearest that its hand makes; None for none near.

    A nail's nearest may be a skip, which sounds like a hand that touches.
    """
    nearest, away = None, 0.0
    for target in drill.targets_near(tap.song_s):
        stroke = target.stroke
        hand = Hand.NAIL if stroke.kind is Kind.SKIP else stroke.hand
        fits = hand is not Hand.NONE and tap.hand in (None, hand)
        if fits and (nearest is None or abs(target.song_s - tap.song_s) < away):
            nearest, away = target, abs(target.song_s - tap.song_s)
    return nearest


def stroke_near(drill: Drill, tap: Tap) -> Stroke | None:
    """Return the stroke that a tap most likely is, for its sound; None for a tap on a skip."""
    if tap.hand is Hand.NONE:
        return None
    target = target_near(drill, tap)
    if target is None:
        return _nowhere(tap)
    return None if target.stroke.kind is Kind.SKIP else target.stroke


def tap_notes(drill: Drill, tap: Tap) -> tuple[int, ...]:
    """Return the MIDI notes of a tap as it is heard, in the pattern's tuning; none for a tap on a skip."""
    stroke = stroke_near(drill, tap)
    return () if stroke is None else drill.settings.pattern.tuning.stroke_notes(stroke)


def tap_samples(drill: Drill, tap: Tap, gain_db: float, speaker: SpeakerLike) -> Samples:
    """Return the sound of a tap: the string and fret of the stroke that it most likely is."""
    pattern, plan = drill.settings.pattern, speaker.plan
    rate = plan.rate if plan is not None else speaker.rate
    if tap.hand is Hand.NONE:
        return touch_samples(gain_db, rate)  # the hand's fall: a knock on the strings without a note
    target = target_near(drill, tap)
    if target is None:
        return stroke_samples(_nowhere(tap), gain_db, rate, pattern.tuning)
    if target.stroke.kind is Kind.SKIP:
        return touch_samples(gain_db, rate)
    # What the strings had before is worked out once, in the plan of the stream.
    known = plan is not None and plan.pattern is pattern
    before = plan.before[target.bar][target.slot] if plan is not None and known else None
    return stroke_samples(target.stroke, gain_db, rate, pattern.tuning, before)


def sound(tap: Tap, samples: Samples, speaker: SpeakerLike) -> None:
    """Sound a tap at once, as loud as it was struck."""
    speaker.sound_tap(samples, (tap.velocity or FULL_VELOCITY) / FULL_VELOCITY)


def play(drill: Drill, tap: Tap, gain_db: float, speaker: SpeakerLike) -> None:
    """Sound a tap of a drill at once."""
    sound(tap, tap_samples(drill, tap, gain_db, speaker), speaker)


def _nowhere(tap: Tap) -> Stroke:
    """Return what a tap sounds like where the pattern has nothing near."""
    thumb = tap.hand is Hand.THUMB
    return Stroke(kind=Kind.THUMB if thumb else Kind.STRIKE, strings=(5 if thumb else 3,))
