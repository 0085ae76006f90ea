"""The breakdown in numbers: every field documented, the same numbers as the rooms that make them."""

import json
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.practice.charted import PATTERN
from trainer.judging.take import Judgement
from trainer.judging.verdicts import judge
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.breakdown_report import breakdown_dict
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.json_values import Json

FAULTS = Faults(jitter_s=0.008, rush_gap_s=0.05)


def judged(faults: Faults, *, passes: int, swing: Fraction = Fraction(1)) -> tuple[Judgement, Pattern]:
    timeline = Timeline.steady(90)
    meant = lay_out(PATTERN, timeline, passes=passes, feel=Feel(swing=swing))
    taps = simulate(meant, faults, np.random.default_rng(1)).taps
    return judge(lay_out(PATTERN, timeline, passes=passes), taps), PATTERN


def part(parts: dict[str, Json], name: str) -> dict[str, Json]:
    found = parts[name]
    assert isinstance(found, dict)
    return found


def test_a_rushed_gap_shows_as_a_share_and_as_a_place() -> None:
    """By hand: the gap is thumb to drop-thumb, two slots of 333 ms; 50 ms less are 0.925 of it."""
    parts = breakdown_dict(*judged(Faults(rush_gap_s=0.05), passes=10))
    assert part(parts, "gaps")["mean_share"] == pytest.approx(1 - 0.05 / (2 / 3), abs=1e-5)
    assert part(parts, "gaps")["n"] == 20
    assert part(parts, "after_skip")["mean_ms"] == pytest.approx(-50, abs=0.001)


def test_a_late_change_shows_against_its_like_and_by_its_place() -> None:
    """By hand: the drop-thumb that comes first over the second 1 has its like in the bar after it."""
    chart = PATTERN.chart
    targets = lay_out(PATTERN, Timeline.steady(90), passes=10)
    take = simulate(targets, Faults(late_change_s=0.03), np.random.default_rng(1), chart=chart)
    parts = breakdown_dict(judge(targets, take.taps), PATTERN)
    changes = part(parts, "changes")
    each = changes["each"]
    assert isinstance(each, list)
    assert [(c["from"], c["to"], c["bar"], c["beat"]) for c in each if isinstance(c, dict)] == [
        ("1", "4", 2, 3),
        ("4", "1", 3, 5),
    ]
    assert part(changes, "after")["mean_ms"] == pytest.approx(30, abs=0.001)
    assert part(changes, "inside")["mean_ms"] == pytest.approx(0, abs=0.001)
    assert part(changes, "difference")["later_by_ms"] == pytest.approx(30, abs=0.001)
    assert changes["worst"] in (0, 1)


def test_a_pattern_without_chords_has_no_changes() -> None:
    judgement, _ = judged(FAULTS, passes=5)
    assert breakdown_dict(judgement, replace(PATTERN, chart=None))["changes"] is None


def test_a_swing_that_was_played_can_be_adopted() -> None:
    parts = breakdown_dict(*judged(Faults(), passes=10, swing=Fraction(2)))
    assert part(parts, "swing_played")["ratio"] == pytest.approx(2.0, abs=1e-3)
    assert part(parts, "swing_played")["adopted"] == pytest.approx(2.0)


def test_a_split_is_told_with_its_correction_or_with_the_reason_why_not() -> None:
    faults = Faults(clock_sd_s=0.008, motor_sd_s=0.003, correction=0.3)
    levels = part(breakdown_dict(*judged(faults, passes=300)), "two_levels")
    assert levels["cannot_split"] is None
    assert levels["correction"] == pytest.approx(0.3, abs=0.15)
    few = part(breakdown_dict(*judged(faults, passes=2)), "two_levels")
    assert (few["cannot_split"], few["clock_sd_ms"]) == ("too few taps", None)


def test_an_empty_take_is_valid_json_without_nan() -> None:
    parts = breakdown_dict(judge(lay_out(PATTERN, Timeline.steady(90)), ()), PATTERN)
    text = json.dumps(parts, allow_nan=False)
    assert json.loads(text)["swing_played"] is None
    assert json.loads(text)["after_skip"]["taps"] == 0
