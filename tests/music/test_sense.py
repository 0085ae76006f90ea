"""What a hand or an ear doubts is said with its place and its reason; what is idiomatic is left alone.

What a left hand reaches and what is idiomatic: common practice, no source.
"""

from pathlib import Path

import pytest

from tests.data_of_music import BREAK_HEAD, CHART_TEXT, PATTERN_HEAD
from trainer.music.pattern import Meter
from trainer.music.sense import doubtful_names, doubts
from trainer.music.tune_files import read_tune

ROOT = Path(__file__).parent.parent.parent / "patterns"
BARS_LINE = PATTERN_HEAD.count("\n") + 2


def bars(*lines: str, more: str = "") -> str:
    return f'{more}{PATTERN_HEAD}bars = """\n' + "\n".join(lines) + '\n"""\n'


@pytest.mark.parametrize(
    ("bar", "column", "says"),
    [
        ("strike 3 fret 2, pull-off 3 fret 4, brush, thumb", 18, "goes upwards, from fret 2 to 4"),
        ("strike 3 fret 2, pull-off 3 fret 2, brush, thumb", 18, "goes nowhere"),
        ("strike 3 fret 4, hammer-on 3 fret 2, brush, thumb", 18, "goes down, from fret 4 to 2"),
        ("strike 3, hammer-on 3, brush, thumb", 11, "names no fret"),
        (
            "strike 2, slide 3 fret 4, brush 2 to 1, thumb",
            11,
            "comes from nowhere: nothing has sounded on it",
        ),
        ("strike 3, slide 3 fret 4, strike 1, thumb", 11, "comes from nowhere: it was open"),
        ("strike 3 fret 4, slide 3 fret 4, brush, thumb", 18, "from fret 4 to itself"),
        ("strike 3 fret 1, hammer-on 3 fret 9, brush, thumb", 18, "a stretch that few hands make"),
        ("strike 3, rest, brush frets 1 7 2, thumb", 17, "holds frets 1 and 7 at once"),
        ("strike 3, hammer-on 5 fret 3, brush, thumb", 11, "the short string begins at fret 5"),
    ],
)
def test_each_doubt_of_a_stroke_has_its_place_and_its_reason(bar: str, column: int, says: str) -> None:
    [doubt] = doubts(bars(bar), name="stroll", source="stroll.toml")
    assert says in doubt.problem
    assert (doubt.line, doubt.column) == (BARS_LINE, column)
    assert str(doubt).startswith(f"stroll.toml:{BARS_LINE}:{column}: ")
    assert str(doubt).split("\n")[2].index("^") == 4 + column - 1


@pytest.mark.parametrize(
    "bar",
    [
        "strike 3, pull-off 1 fret 0, brush, thumb",  # a finger plucks the first string by itself
        "strike 4, hammer-on 2 fret 1, brush, thumb",
        "strike 3 fret 2, slide 3 fret 4, brush, thumb",
        "strike 3 fret 4, slide 3 fret 2, brush, thumb",
        "strike 3 fret 2, pull-off 3 fret 0, brush, thumb",
        "skip, pull-off 1 fret 0, brush frets 2 0 3, thumb",
    ],
)
def test_what_players_do_is_not_doubted(bar: str) -> None:
    assert doubts(bars(bar), name="stroll") == ()


def test_a_slide_at_the_begin_may_come_from_the_end_of_the_pass_before() -> None:
    first, last = "slide 3 fret 4, rest, strike 1, thumb", "strike 3 fret 2, rest, strike 1, thumb"
    assert doubts(bars(first, last), name="stroll") == ()
    assert doubts(bars(first, "strike 2, rest, strike 1, thumb"), name="stroll") != ()


@pytest.mark.parametrize(
    ("brush", "says"),
    [
        ("brush frets 0 1 3", "sounds F, which the chord 4 (C) does not have"),
        ("brush frets 0 1 2", ""),
        ("brush 2 to 1 frets 5 2", "lacks the root of the chord 4 (C)"),
    ],
)
def test_a_brush_is_compared_with_the_chord_under_it(brush: str, says: str) -> None:
    """Open G: C is G C E on strings 3 to 1 at 0 1 2; F at fret 3 is foreign; E and E lack the root."""
    text = bars(f"strike 3, rest, {brush}, thumb", more='key = "G"\nchords = "4"\n')
    found = doubts(text, name="stroll")
    assert [says in each.problem for each in found] == ([True] if says else [])


def test_a_break_is_doubted_where_its_melody_stands() -> None:
    melody = 'chords = "1"\nmelody = """\n3 then slide 3 fret 4, hold\n"""\n'
    [doubt] = doubts(BREAK_HEAD + melody, name="pond")
    assert "comes from nowhere: it was open" in doubt.problem
    assert doubt.line_text == "3 then slide 3 fret 4, hold"


def test_names_that_lead_nowhere_are_doubted_where_they_stand() -> None:
    meters = {"basic-figure": Meter.TWO_FOUR, "in-three": Meter.THREE_FOUR}
    text = bars("strike 3, rest, brush, thumb").replace("needs = []", 'needs = ["basic-figure", "bassic"]')
    [doubt] = doubtful_names(text, read_tune(text, name="stroll"), meters)
    assert doubt.problem == "bassic in needs is not in the library"
    assert "needs" in doubt.line_text
    chart = CHART_TEXT.replace("basic-figure", "nothing")
    [doubt] = doubtful_names(chart, read_tune(chart, name="gate"), meters)
    assert doubt.problem == "the figure nothing is not in the library"
    other = CHART_TEXT.replace("basic-figure", "in-three")
    [doubt] = doubtful_names(other, read_tune(other, name="gate"), meters)
    assert doubt.problem == "the figure in-three is in 3/4, the chart in 2/4"


@pytest.mark.parametrize("path", sorted(ROOT.rglob("*.toml")), ids=lambda path: path.stem)
def test_nothing_that_comes_with_the_program_is_doubted(path: Path) -> None:
    assert [str(doubt) for doubt in doubts(path.read_text(encoding="utf-8"), name=path.stem)] == []
