"""Lay a pattern over time: every stroke of every pass with the second at which it should sound.

Feel moves the targets on purpose: a swing ratio for the up slots, and a lay-back in seconds by kind of
stroke (late is positive). Judging then measures against the moved target, so feel is not an error.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind, Motion, Stroke
from trainer.music.timeline import STRAIGHT, Timeline, slot_in_beat

MOST_PASSES = 10_000  # hours of any figure
MAX_LAYBACK_S = 0.080  # more than the delays that listeners rated as swing: Nelias et al. 2022


@dataclass(frozen=True, slots=True, kw_only=True)
class Feel:
    """How the target is moved on purpose.

    Attributes:
        swing: long to short for pairs of slots, 1 for straight.
        layback_s: seconds by kind; a kind not named is not moved.
    """

    swing: Fraction = STRAIGHT
    layback_s: tuple[tuple[Kind, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse a lay-back that no listener would call feel."""
        for kind, seconds in self.layback_s:
            if not -MAX_LAYBACK_S <= seconds <= MAX_LAYBACK_S:
                raise BadSettings(
                    f"a lay-back of {seconds * 1000:g} ms for {kind.value} is outside "
                    f"{-MAX_LAYBACK_S * 1000:g} to {MAX_LAYBACK_S * 1000:g}",
                    "choose one inside",
                )

    def layback(self, kind: Kind) -> float:
        """Return the lay-back of a kind in seconds."""
        return dict(self.layback_s).get(kind, 0.0)


NO_FEEL = Feel()


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """One slot of one pass: what should happen there, and when.

    Attributes:
        index: place in the whole layout, from 0.
        pass_index, bar, slot: which pass, which bar of the pattern, which slot of the bar, from 0.
        motion: the hand's way through the slot.
        stroke: what should happen; rests are targets too, so that the hand can be drawn.
        beat: exact beat from the start, swing included.
        song_s: second from beat 0, swing and lay-back included.
        slot_s: length in seconds of one slot at this tempo, unswung.
    """

    index: int
    pass_index: int
    bar: int
    slot: int
    motion: Motion
    stroke: Stroke
    beat: Fraction
    song_s: float
    slot_s: float


def lay_out(
    pattern: Pattern, timeline: Timeline, *, passes: int = 1, first_pass: int = 0, feel: Feel = NO_FEEL
) -> tuple[Target, ...]:
    """Return the targets of ``passes`` passes, in order of slots.

    Args:
        first_pass: number of the first pass laid out; its first beat is ``first_pass * pattern.beats``
            and its first index follows from it, so pieces laid out apart fit together.

    Returns:
        ``passes * len(pattern.strokes)`` targets.
    """
    spb = pattern.slots_per_beat
    slot_beats = tuple(
        slot // spb + slot_in_beat(spb, slot % spb, feel.swing) for slot in range(pattern.slots_per_bar)
    )
    layback = {kind: feel.layback(kind) for kind in Kind}
    slot_s = {span.bpm: float(60 / (span.bpm * spb)) for span in timeline.spans}
    targets = []
    index = first_pass * len(pattern.strokes)
    for pass_index in range(first_pass, first_pass + passes):
        for bar, strokes in enumerate(pattern.bars):
            bar_beat = pass_index * pattern.beats + bar * pattern.meter.beats
            for slot, stroke in enumerate(strokes):
                beat = bar_beat + slot_beats[slot]
                targets.append(
                    Target(
                        index=index,
                        pass_index=pass_index,
                        bar=bar,
                        slot=slot,
                        motion=pattern.motion[slot],
                        stroke=stroke,
                        beat=beat,
                        song_s=timeline.seconds(beat) + layback[stroke.kind],
                        slot_s=slot_s[timeline.span_at(beat).bpm],
                    )
                )
                index += 1
    return tuple(targets)
