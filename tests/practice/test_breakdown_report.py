"""The breakdown in numbers: every field documented, the same numbers as the rooms that make them."""

import json
import re
from fractions import Fraction

import numpy as np
import pytest

import trainer.practice.breakdown_report as module
from tests.judging.helpers import SKIP_FIGURE, pattern_of
from trainer.judging.take import Judgement
from trainer.judging.verdicts import judge
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.breakdown_report import breakdown_dict
from trainer.practice.hands import Faults, simulate
from trainer.practice.json_values import Json

PATTERN = pattern_of("accented strike 3, thumb, brush, thumb", "strike 1, rest, brush, thumb", SKIP_FIGURE)
FAULTS = Faults(jitter_s=0.008, rush_gap_s=0.05)


def judged(faults: Faults, *, passes: int, swing: Fraction = Fraction(1)) -> tuple[Judgement, Pattern]:
    timeline = Timeline.steady(90)
    meant = lay_out(PATTERN, timeline, passes=passes, feel=Feel(swing=swing))
    taps = simulate(meant, faults, np.random.default_rng(1)).taps
    return judge(lay_out(PATTERN, timeline, passes=passes), taps), PATTERN


def names_in(value: Json) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*(names_in(inside) for inside in value.values()))
    if isinstance(value, list):
        return set().union(*(names_in(inside) for inside in value))
    return set()


def documented() -> set[str]:
    return set(re.findall(r"``([a-z_0-9]+)``", module.__doc__ or "")) - {"null"}


def part(parts: dict[str, Json], name: str) -> dict[str, Json]:
    found = parts[name]
    assert isinstance(found, dict)
    return found


def test_every_field_is_documented_and_every_documented_one_is_there() -> None:
    assert names_in(breakdown_dict(*judged(FAULTS, passes=20))) == documented()


def test_a_rushed_gap_shows_as_a_share_and_as_a_place() -> None:
    """By hand: the gap is thumb to drop-thumb, two slots of 333 ms; 50 ms less are 0.925 of it."""
    parts = breakdown_dict(*judged(Faults(rush_gap_s=0.05), passes=10))
    assert part(parts, "gaps")["mean_share"] == pytest.approx(1 - 0.05 / (2 / 3), abs=1e-5)
    assert part(parts, "gaps")["n"] == 10
    assert part(parts, "after_skip")["mean_ms"] == pytest.approx(-50, abs=0.001)


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
