"""What programs read stands in the schemas, each field of its kind; nothing else is written."""

from fractions import Fraction

import numpy as np
import pytest

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from tests.practice.charted import PATTERN
from tests.practice.checkups import GOOD, NOWHERE
from tests.practice.schemas import hold
from trainer.judging.reading import reading_of
from trainer.judging.reading_grid import Asked
from trainer.music.layout import lay_out
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.checkup import checkup_dict
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.json_values import Json
from trainer.practice.report import GradedTake, report_dict
from trainer.practice.report_schema import CHECKUP, GRADE, TRUTH, Field
from trainer.practice.truth import truth_dict


def report_of(passes: int, faults: Faults) -> dict[str, Json]:
    timeline = Timeline.steady(90)
    targets = lay_out(PATTERN, timeline, passes=passes)
    taps = simulate(targets, faults, np.random.default_rng(1)).taps
    judgement = reading_of(Asked(pattern=PATTERN, timeline=timeline, passes=passes), targets, taps)
    return report_dict(GradedTake(pattern=PATTERN, bpm=Fraction(90), passes=passes, judgement=judgement))


def test_a_report_of_a_long_take_has_every_field() -> None:
    fields = [field for field in GRADE.fields if field.path != "reading.also[]"]  # nothing else holds with it
    hold(report_of(20, Faults(jitter_s=0.008, rush_gap_s=0.08, stray=0.3)), fields, is_full=True)


def test_a_report_of_nothing_has_no_other_fields() -> None:
    hold(report_of(1, Faults(miss=1.0)), GRADE.fields, is_full=False)


def full_truth() -> dict[str, Json]:
    pattern = pattern_of(BASIC_FIGURE, SKIP_FIGURE)
    targets = lay_out(pattern, Timeline.steady(60), passes=2)
    faults = Faults(lean_s=((Kind.THUMB, 0.01),), stray=0.5, double=0.5, touch_skips=1.0, miss=0.2)
    take = simulate(targets, faults, np.random.default_rng(2))
    return truth_dict(
        take,
        targets,
        faults,
        pattern="figure",
        bpm=Fraction(60),
        passes=2,
        swing=Fraction(1),
        seed=2,
        offset_s=0.0,
    )


def test_the_truth_has_every_field() -> None:
    truth = full_truth()
    hold(truth, TRUTH.fields, is_full=True)
    faults = truth["faults"]
    assert isinstance(faults, dict)
    spelt = {name.removesuffix("_ms").removesuffix("_s") for name in faults}
    assert spelt == {name.removesuffix("_s") for name in Faults.__dataclass_fields__}


def test_the_truth_of_each_tap_points_at_its_stroke() -> None:
    truth = full_truth()
    strokes, taps = truth["strokes"], truth["taps"]
    assert isinstance(strokes, list)
    assert isinstance(taps, list)
    sounding = {"strike", "drop-thumb", "brush", "thumb"}
    kinds = {
        "touch": {"skip"},
        "stroke": sounding,
        "double": sounding,
    }
    assert {each["cause"] for each in taps} == {"touch", "stroke", "double", "stray"}
    for each in taps:
        if each["cause"] == "stray":
            assert each["stroke"] is None
        else:
            assert strokes[each["stroke"]]["kind"] in kinds[each["cause"]]
        if each["cause"] in ("touch", "stroke"):
            assert strokes[each["stroke"]]["tapped_s"] == each["tapped_s"]


def test_a_checkup_has_every_field_and_a_part_that_was_not_measured_says_only_why() -> None:
    reasons = [field for field in CHECKUP.fields if field.path.endswith(".not_measured")]
    hold(checkup_dict(GOOD), [field for field in CHECKUP.fields if field not in reasons], is_full=True)
    claims = [field for field in CHECKUP.fields if field.path.count(".") == 0]
    hold(checkup_dict(NOWHERE), [*claims, *reasons], is_full=True)


@pytest.mark.parametrize(
    ("report", "is_full"),
    [
        ({"n": 1, "more": 2}, False),
        ({"n": True}, False),
        ({"n": None}, False),
        ({"n": 1.0}, False),
        ({}, True),
    ],
)
def test_what_is_not_in_a_schema_is_caught(report: object, is_full: bool) -> None:
    with pytest.raises(AssertionError):
        hold(report, [Field("n", "whole")], is_full=is_full)
