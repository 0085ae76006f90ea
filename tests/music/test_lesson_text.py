"""A lesson's text is read step by step, and what is wrong in it is pointed at."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadNotation
from trainer.music.lesson_text import StepText, read_lesson_text

HEAD = 'title = "A lesson"\nsteps = """\n'


def steps(*lines: str) -> tuple[StepText, ...]:
    return read_lesson_text(HEAD + "\n".join(lines) + '\n"""\n', "lesson.toml").steps


def test_a_step_has_its_parts_in_any_order_and_words_after_a_colon() -> None:
    (step,) = steps(
        "  barn-lantern at skips, 2.5 minutes, bars 3 to 6, 60.5 bpm, 4 passes: hum it: first  # remark"
    )
    assert step.name.text == "barn-lantern at skips"
    assert (step.bars, step.bpm, step.minutes, step.passes) == ((3, 6), Fraction(121, 2), Fraction(5, 2), 4)
    assert step.words == "hum it: first"


def test_what_is_left_out_is_left_open() -> None:
    (step,) = steps("skip-figure")
    assert (step.bars, step.bpm, step.minutes, step.passes, step.words) == (None, None, None, None, "")


def test_empty_lines_and_remarks_are_no_steps() -> None:
    assert [step.name.text for step in steps("# first", "", "a, bar 2", "   ", "b: say it")] == ["a", "b"]


def test_the_path_of_a_file_keeps_its_colon() -> None:
    assert steps("C:/figures/mine.toml, 60 bpm: now")[0].name.text == "C:/figures/mine.toml"


@pytest.mark.parametrize(
    ("line", "column", "problem", "remedy"),
    [
        ("a, 60 bmp", 4, 'found "60 bmp" in a step', "did you mean bpm"),
        ("a, 60 bpm, 70 bpm", 12, "the step has bpm twice", "leave one out"),
        ("a, 1000 bpm", 4, "a tempo of 1000 beats a minute is outside 20 to 400", "choose one inside"),
        ("a, 0 minutes", 4, "0 minutes are outside 0.25 to 90", "choose a number inside"),
        ("a, 1.5 passes", 4, 'found "1.5" for passes', "write a whole number"),
        ("a, x minutes", 4, 'found "x" for minutes', "write a number"),
        (", 60 bpm", 1, "the step has no pattern", "write its name before the first comma"),
        ("a, ", 4, 'found "" in a step', "write parts"),
    ],
)
def test_what_is_wrong_is_pointed_at(line: str, column: int, problem: str, remedy: str) -> None:
    with pytest.raises(BadNotation) as caught:
        steps("b", line)
    assert (caught.value.line, caught.value.column) == (4, column)
    assert caught.value.problem == problem
    assert caught.value.remedy.startswith(remedy)
    assert caught.value.line_text == line


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ('title = "x"\n', "the key steps is missing"),
        ('title = "x"\nsteps = ""\n', "the lesson has no step"),
        ('kind = "break"\ntitle = "x"\nsteps = "a"\n', 'found "break" for kind'),
        ('title = "x"\nsteps = "a"\nstep = 3\n', "found the key step, which lessons do not have"),
        ('title = "x"\nsteps = 3\n', "steps is not text"),
        ("title = \n", "this is not TOML"),
    ],
)
def test_a_file_that_is_no_lesson_is_said(text: str, problem: str) -> None:
    with pytest.raises(BadNotation) as caught:
        read_lesson_text(text, "lesson.toml")
    assert caught.value.problem.startswith(problem)


@given(st.text(alphabet="ab ,:#60bpminutes\n", max_size=60))
def test_any_text_is_read_or_complained_about_at_a_place_that_exists(text: str) -> None:
    whole = f'{HEAD}{text}\n"""\n'
    found = complaint(whole)
    if found is not None:
        lines = whole.split("\n")
        assert 1 <= found.line <= len(lines)
        assert 1 <= found.column <= len(lines[found.line - 1]) + 1


def complaint(text: str) -> BadNotation | None:
    try:
        read_lesson_text(text, "lesson.toml")
    except BadNotation as err:
        return err
    return None
