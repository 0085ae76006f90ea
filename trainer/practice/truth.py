"""Write down what a simulated player really did, to be kept beside its take.

Passes, bars and slots count from 1, seconds from beat 0, placements in ms are tap minus target, late
positive; ``null`` means none.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trainer.music.layout import Target
from trainer.practice.faults import Faults
from trainer.practice.hands import Deed, SimulatedTake
from trainer.practice.json_values import Json, milliseconds
from trainer.practice.report_schema import TRUTH


def truth_dict(
    take: SimulatedTake,
    targets: Sequence[Target],
    faults: Faults,
    *,
    pattern: str,
    bpm: Fraction,
    passes: int,
    swing: Fraction,
    seed: int,
    offset_s: float,
) -> dict[str, Json]:
    """Return the truth as plain values; every field is in :mod:`trainer.practice.report_schema`."""
    strokes: list[dict[str, Json]] = []
    index_of: dict[int, int] = {}
    for target, truth in zip(targets, take.target_truths, strict=True):
        if truth.deed is Deed.RESTED:
            continue
        index_of[target.index] = len(strokes)
        tapped = None if truth.tap_index is None else round(take.taps[truth.tap_index].song_s, 6)
        strokes.append(
            {
                "pass": target.pass_index + 1,
                "bar": target.bar + 1,
                "slot": target.slot + 1,
                "kind": target.stroke.kind.value,
                "expected_s": round(target.song_s, 6),
                "tapped_s": tapped,
                "placement_ms": milliseconds(truth.placement_s),
                "deed": truth.deed.value,
                "rushed": truth.rushed,
                "late_change": truth.late_change,
            }
        )
    return {
        "format": TRUTH.format,
        "pattern": pattern,
        "bpm": float(bpm),
        "passes": passes,
        "swing": float(swing),
        "seed": seed,
        "offset_s": round(offset_s, 6),
        "faults": _faults_dict(faults),
        "strokes": strokes,
        "taps": [
            {
                "tapped_s": round(tap.song_s, 6),
                "hand": None if tap.hand is None else tap.hand.value,
                "string": tap.string,
                "velocity": tap.velocity,
                "cause": truth.cause.value,
                "stroke": None if truth.target_index is None else index_of[truth.target_index],
                "wrong_hand": truth.wrong_hand,
            }
            for tap, truth in zip(take.taps, take.tap_truths, strict=True)
        ],
    }


def _faults_dict(faults: Faults) -> dict[str, Json]:
    return {
        "lean_ms": {kind.value: milliseconds(seconds) for kind, seconds in faults.lean_s},
        "jitter_ms": milliseconds(faults.jitter_s),
        "rush_gap_ms": milliseconds(faults.rush_gap_s),
        "clock_sd_ms": milliseconds(faults.clock_sd_s),
        "motor_sd_ms": milliseconds(faults.motor_sd_s),
        "correction": faults.correction,
        "drift": faults.drift,
        "late_change_ms": milliseconds(faults.late_change_s),
        "speed_up": faults.speed_up,
        "touch_skips": faults.touch_skips,
        "miss": faults.miss,
        "stray": faults.stray,
        "wrong_hand": faults.wrong_hand,
        "double": faults.double,
        "one_pad": faults.one_pad,
    }
