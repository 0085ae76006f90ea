"""What a take came to, and the one step after it: a table of cases, and what may never happen."""

import dataclasses
from fractions import Fraction
from typing import Any

import pytest

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.judging.advice import Finding
from trainer.judging.readings import Reading, ReadingKind
from trainer.judging.wording import WORDING, Fault
from trainer.practice.next_step import Following, LastDrill, NextStep, Todo, is_delay, next_step
from trainer.practice.single_out import gap_alone, has_gap

SKIPS = dataclasses.replace(
    pattern_of(SKIP_FIGURE, BASIC_FIGURE),
    slow_bpm=Fraction(40),
    goal_bpm=Fraction(120),
    playing_bpm=Fraction(200),
)
FOLLOWING = Following(pattern="skip-figure", title="The skip figure", bpm=Fraction(40))


def played(bpm: int = 50, **more: Any) -> LastDrill:
    fields: dict[str, object] = {"pattern": SKIPS, "bpm": Fraction(bpm), "strokes": 28, "taps": 24, **more}
    return LastDrill(**fields)  # type: ignore[arg-type]


def clean(bpm: int = 50, **more: Any) -> LastDrill:
    return played(bpm, clean_bpm=Fraction(bpm), clean_passes=4, **more)


def found(fault: Fault, ms: float = 39, **more: object) -> Finding:
    fields: dict[str, object] = {
        "sentence": "x", "half_interval_s": 0.005, "hits": 7, "n": 28, "probability": 1e-6, **more,
    }  # fmt: skip
    return Finding(fault=fault, size_s=ms / 1000, **fields)  # type: ignore[arg-type]


def read(kind: ReadingKind, sentence: str, **more: object) -> Reading:
    return Reading(kind=kind, sentence=sentence, **more)  # type: ignore[arg-type]


LATE: dict[str, Any] = {"mean_s": 0.064, "half_interval_s": 0.004, "spread_s": 0.010}
BAR_LATE = read(
    ReadingKind.BAR_LATE,
    "You were one bar late, and otherwise clean; count the 4 beats of the count-in aloud.",
    amount=1.0,
    unit="bars",
)
HALF = read(
    ReadingKind.HALF_TIME,
    "You played in half time, 60 where the click was at 120; set the click to 60.",
    amount=60.2,
)
EXCHANGED = read(ReadingKind.PADS_EXCHANGED, "Your pads are exchanged; Enter changes them.")

CASES: dict[str, tuple[LastDrill, str, Todo, str]] = {
    "clean: up by a twentieth": (clean(50), "Clean at 50.", Todo.AGAIN, "Again at 53"),
    "clean near the goal: no further than the goal": (
        clean(118),
        "Clean at 118.",
        Todo.AGAIN,
        "Again at 120",
    ),
    "clean with a ladder: where the ladder goes on": (
        clean(50, ladder_bpm=Fraction(57)),
        "Clean at 50.",
        Todo.AGAIN,
        "Again at 57",
    ),
    "clean at the goal: the next in the course": (
        clean(120, following=FOLLOWING),
        "Clean at 120.",
        Todo.NEXT,
        "Next: The skip figure, at 40",
    ),
    "clean at the goal with nothing after it: on to the playing tempo": (
        clean(120),
        "Clean at 120.",
        Todo.AGAIN,
        "Again at 126",
    ),
    "clean as fast as it is played": (clean(200), "Clean at 200.", Todo.AGAIN, "Again at 200"),
    "clean, and long on one figure: a change": (
        clean(60, for_a_change=FOLLOWING),
        "Clean at 60.",
        Todo.NEXT,
        "Next: The skip figure, at 40",
    ),
    "clean, and a break is due": (clean(60, rest=5), "Clean at 60.", Todo.REST, "Rest for 5 minutes"),
    "the gap alone, clean: back to the whole": (
        clean(45, whole_title="Skips", whole_bpm=Fraction(50)),
        "Clean at 45.",
        Todo.WHOLE,
        "All of it again at 50",
    ),
    "a rushed gap: the gap alone, slower": (
        played(findings=(found(Fault.RUSHED_GAP, -39),)),
        "Not yet: the stroke after the skip comes 39 ms early.",
        Todo.GAP,
        "The gap alone at 45",
    ),
    "touched skips: the gap alone, slower": (
        played(findings=(found(Fault.TOUCHED_SKIP, hits=7, n=14),)),
        "Not yet: 7 of 14 skips were touched.",
        Todo.GAP,
        "The gap alone at 45",
    ),
    "most strokes missed: a fifth slower": (
        played(100, findings=(found(Fault.MISSED, hits=20, n=28),)),
        "Not yet: 20 of 28 strokes did not sound.",
        Todo.AGAIN,
        "Again at 80",
    ),
    "scattered: a tenth slower, and never called the devices' delay": (
        played(100, findings=(found(Fault.UNEVEN, 41),), **{**LATE, "spread_s": 0.055}),
        "Not yet: your strokes scatter by 41 ms.",
        Todo.AGAIN,
        "Again at 90",
    ),
    "steadily late: the devices, before any blame": (
        played(findings=(found(Fault.BEHIND, 64),), **LATE),
        "Your taps come 64 ms late, all alike: most likely the delay of the devices.",
        Todo.MEASURE,
        "Measure the delay",
    ),
    "steadily late though it was measured": (
        played(delay_is_known=True, **LATE),
        "Not yet: all your taps come 64 ms late, though the delay measured is taken off.",
        Todo.MEASURE,
        "Measure the delay",
    ),
    "steadily early: a habit, not the devices": (
        played(findings=(found(Fault.AHEAD, -64),), **{**LATE, "mean_s": -0.064}),
        "Not yet: you sit 64 ms ahead of the click.",
        Todo.AGAIN,
        "Again at 50",
    ),
    "late, and clean all the same: nothing to measure": (
        clean(50, **LATE),
        "Clean at 50.",
        Todo.AGAIN,
        "Again at 53",
    ),
    "a bar late": (
        played(reading=BAR_LATE, findings=(found(Fault.READING),)),
        "You were one bar late, and otherwise clean.",
        Todo.AGAIN,
        "Again at 50",
    ),
    "in half time: at the tempo the hand took": (
        played(120, reading=HALF),
        "You played in half time, 60 where the click was at 120.",
        Todo.AGAIN,
        "Again at 60",
    ),
    "pads exchanged": (
        played(reading=EXCHANGED),
        "Your pads are exchanged.",
        Todo.EXCHANGE,
        "Exchange nail and thumb, again at 50",
    ),
    "nothing heard": (played(taps=0), "Nothing was heard.", Todo.AGAIN, "Again at 50"),
    "stopped in the count-in": (
        played(strokes=0, taps=0),
        "Stopped before the first stroke.",
        Todo.AGAIN,
        "Again at 50",
    ),
    "not graded": (
        clean(50, not_graded="the sound device was lost"),
        "This take does not count: the sound device was lost.",
        Todo.AGAIN,
        "Again at 50",
    ),
    "clean so far, but too short": (
        played(clean_passes=1),
        "Clean so far: 1 pass.",
        Todo.AGAIN,
        "Again at 50",
    ),
    "the ladder has gone too far": (
        played(60, clean_bpm=Fraction(57), ladder_bpm=Fraction(57), why="2 early"),
        "Clean at 57, not yet at 60.",
        Todo.AGAIN,
        "Again at 57",
    ),
    "not clean, nothing sure": (
        played(why="2 early, 1 missed"),
        "Not yet: 2 early, 1 missed.",
        Todo.AGAIN,
        "Again at 50",
    ),
    "late after a change: its bars alone": (
        played(
            60,
            pattern=pattern_of(*[BASIC_FIGURE] * 8),
            change_bar=4,
            findings=(found(Fault.LATE_AFTER_CHANGE, 45),),
        ),
        "Not yet: after a chord change you come in 45 ms late.",
        Todo.BARS,
        "Bars 4 and 5 alone at 54",
    ),
    "slow already: no slower than the ear joins": (
        played(32, findings=(found(Fault.UNEVEN, 41),)),
        "Not yet: your strokes scatter by 41 ms.",
        Todo.AGAIN,
        "Again at 30",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_what_happened_and_the_one_next_step(case: str) -> None:
    take, happened, todo, words = CASES[case]
    step = next_step(take)
    assert (step.happened, step.todo, step.words) == (happened, todo, words)


@pytest.mark.parametrize("case", CASES)
def test_the_number_in_the_words_is_the_tempo_of_the_step(case: str) -> None:
    step = next_step(CASES[case][0])
    has_tempo = step.todo not in (Todo.MEASURE, Todo.REST)
    assert (step.bpm is not None) is has_tempo
    if step.bpm is not None:
        assert step.words.endswith(f"at {float(step.bpm):g}")


@pytest.mark.parametrize("fault", [fault for fault in Fault if fault is not Fault.READING])
def test_each_fault_has_a_line_and_a_step_no_faster_than_what_was_played(fault: Fault) -> None:
    assert fault in WORDING
    step = next_step(played(80, findings=(found(fault, 41),)))
    assert step.happened.startswith("Not yet: ")
    assert step.happened.endswith(".")
    assert step.why
    assert step.bpm is not None
    assert step.bpm <= 80
    assert not step.clean


def test_the_first_line_and_the_reason_speak_of_the_finding_that_they_stand_for() -> None:
    findings = (found(Fault.RUSHED_GAP, -39), found(Fault.KIND_LATE, 20))
    assert next_step(played(findings=findings)).told == 1
    assert next_step(clean(findings=findings)).told == 0


def test_a_take_is_told_as_a_bar_late_before_it_is_called_late() -> None:
    assert next_step(played(reading=BAR_LATE, **LATE)).todo is Todo.AGAIN


def test_few_taps_are_nobodys_delay() -> None:
    assert is_delay(played(**LATE))
    assert not is_delay(played(taps=15, **LATE))
    assert not is_delay(played(**{**LATE, "half_interval_s": 0.011}))


def test_the_gap_alone_has_the_skip_and_the_stroke_after_it_and_no_step_into_itself() -> None:
    gap = gap_alone(SKIPS)
    words = [stroke.kind.value for stroke in gap.strokes if stroke.kind.value != "rest"]
    assert words == ["skip", "drop-thumb"]
    assert (gap.meter, gap.slots_per_beat, gap.goal_bpm) == (
        SKIPS.meter,
        SKIPS.slots_per_beat,
        SKIPS.goal_bpm,
    )
    assert gap.title.endswith("the gap alone")
    assert has_gap(SKIPS)
    assert not has_gap(gap)
    assert not has_gap(pattern_of(BASIC_FIGURE))


def test_a_gap_over_the_bar_line_keeps_both_bars() -> None:
    gap = gap_alone(pattern_of("strike 3, rest, skip, rest", "brush, thumb, strike 2, thumb"))
    assert [stroke.kind.value for stroke in gap.strokes] == [
        "rest", "rest", "skip", "rest", "brush", "rest", "rest", "rest",
    ]  # fmt: skip


def test_a_step_is_a_value() -> None:
    step: NextStep = next_step(clean())
    assert step == next_step(clean())
