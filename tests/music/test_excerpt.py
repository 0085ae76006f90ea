"""Bars cut out of a pattern keep their strokes and the chords heard under them."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.errors import BadSettings
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.excerpt import excerpt
from trainer.music.notation import read_pattern, write_pattern
from trainer.music.pattern import Pattern

BARS = 8


def over(*beats: int) -> Pattern:
    """Eight bars of 2/4, all different in their strings, over chords of so many beats each."""
    bars = [f"strike {1 + at % 4} fret {at}, rest, brush, thumb" for at in range(BARS)]
    chords = (Chord(degree=1), Chord(degree=4), Chord(degree=5), Chord(degree=6, minor=True))
    spans = tuple(ChordSpan(chord=chords[at % 4], beats=n) for at, n in enumerate(beats))
    return replace(pattern_of(*bars), name="brook", chart=Chart(key="A", spans=spans))


def test_bars_are_named_as_people_count() -> None:
    whole = over(16)
    assert excerpt(whole, 2, 5).name == "brook bars 3 to 6"
    assert excerpt(whole, 7, 7).name == "brook bar 8"
    assert excerpt(whole, 2, 5).title == "Figure, bars 3 to 6"
    assert excerpt(whole, 2, 5).bars == whole.bars[2:6]


def test_all_bars_are_the_pattern_itself() -> None:
    assert excerpt(over(16), 0, BARS - 1) == over(16)


def test_a_chord_that_began_before_goes_on_and_one_that_goes_on_is_cut() -> None:
    """By hand: chords on beats 0, 5 and 11; bars 2 to 6 are beats 2 to 11 and one more."""
    part = excerpt(over(5, 6, 5), 1, 5)
    assert part.chart is not None
    assert [(span.chord.words, span.beats) for span in part.chart.spans] == [("1", 3), ("4", 6), ("5", 1)]


def test_a_chord_that_ends_where_the_bars_begin_is_left_out() -> None:
    part = excerpt(over(4, 4, 8), 2, 3)
    assert part.chart is not None
    assert [(span.chord.words, span.beats) for span in part.chart.spans] == [("4", 4)]


@given(
    st.lists(st.integers(1, 6), min_size=1, max_size=8).map(lambda b: (*b, 16)),
    st.integers(0, BARS - 1),
    st.integers(0, BARS - 1),
)
def test_every_beat_has_the_chord_that_it_had(lengths: tuple[int, ...], a: int, b: int) -> None:
    first, last = sorted((a, b))
    left, beats = 2 * BARS, []
    for n in lengths:
        beats.append(min(n, left))
        left -= beats[-1]
        if not left:
            break
    whole = over(*beats)
    part = excerpt(whole, first, last)
    assert whole.chart is not None
    assert part.chart is not None
    assert part.chart.beats == part.beats == 2 * (last - first + 1)
    for half_beats in range(2 * part.beats):
        at = Fraction(half_beats, 2)
        assert part.chart.chord_at(at) == whole.chart.chord_at(at + 2 * first)


def test_a_figure_without_chords_stays_without() -> None:
    assert excerpt(pattern_of(BASIC_FIGURE, SKIP_FIGURE), 1, 1).chart is None


def test_a_long_title_leaves_room_for_the_bars_and_can_be_read_back() -> None:
    long = replace(pattern_of(BASIC_FIGURE, SKIP_FIGURE), title="y" * 80)
    part = excerpt(long, 0, 0)
    assert part.title.endswith(", bar 1")
    assert read_pattern(write_pattern(part), name=part.name).bars == part.bars


@pytest.mark.parametrize(("first", "last"), [(-1, 2), (3, 2), (2, 8), (8, 8)])
def test_bars_that_are_not_there_are_refused_by_number(first: int, last: int) -> None:
    with pytest.raises(BadSettings, match=f"bars {first + 1} to {last + 1} of brook, which has 8"):
        excerpt(over(16), first, last)
