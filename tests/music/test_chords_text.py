"""Chords by number as text: round trips, and one sentence for each mistake."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import CHORDS, charts
from trainer.errors import BadNotation, BadSettings
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.chords_text import chords_words, read_chord, read_chords
from trainer.music.source import Source, Word


def read(text: str, bar_beats: int = 2) -> tuple[ChordSpan, ...]:
    return read_chords(Source("tune.toml", tuple(text.split("\n"))), Word(text, 1, 1), bar_beats)


def words(text: str, bar_beats: int = 2) -> str:
    return ", ".join(chords_words(read(text, bar_beats)))


@given(CHORDS)
def test_any_chord_survives_being_written_and_read(chord: Chord) -> None:
    assert read_chord(chord.words) == chord


@given(st.integers(1, 64).flatmap(charts))
def test_any_chart_survives_being_written_and_read(chart: Chart) -> None:
    text = "\n".join(chords_words(chart.spans))
    assert read(text, 1) == chart.spans


def test_a_chord_without_beats_lasts_one_bar() -> None:
    assert words("1, 4, b7, 6-", 3) == "1 for 3, 4 for 3, b7 for 3, 6- for 3"


def test_commas_bar_strokes_and_lines_all_part_chords() -> None:
    assert words("1 for 4, 4 | 5,\n| 1 for 2 beats |") == "1 for 4, 4 for 2, 5 for 2, 1 for 2"


def test_a_remark_is_told_from_a_sharp_chord_by_what_follows() -> None:
    assert words("1, #4  # the sharp one\n# 5 is left out\n1") == "1 for 2, #4 for 2, 1 for 2"


def test_neighbours_with_one_chord_become_one_so_that_every_start_is_a_change() -> None:
    chart = Chart(key="G", spans=read("1, 1, 4, 4 for 4, 1"))
    assert [(span.chord.words, span.beats) for span in chart.spans] == [("1", 4), ("4", 6), ("1", 2)]
    assert chart.starts == (0, 4, 10)


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("1, 8", 1, 4, "a number from 1 to 7"),
        ("1, 6m", 1, 4, "did you mean 6-"),
        ("1, 7b", 1, 4, "did you mean b7"),
        ("1, IV", 1, 4, "did you mean 4"),
        ("1, vi", 1, 4, "did you mean 6-"),
        ("1, Em", 1, 4, "letters follow from the key"),
        ("1 4", 1, 3, "put a comma"),
        ("1 for", 1, 3, "for without a number"),
        ("1 for 0", 1, 7, "a whole number from 1"),
        ("1 for two", 1, 7, "a whole number from 1"),
        ("1 for 2 4", 1, 9, "put a comma before the next chord"),
        ("1,, 4", 1, 3, "nothing between two commas"),
        ("1\n4 for 3", 2, 1, "1 beat into a bar of 2"),
        ("1\n  b8", 2, 3, "where a chord should be"),
        ("1 for 200", 1, 1, "passes 64 bars"),
        ("# nothing", 1, 1, "there is no chord"),
    ],
)
def test_each_mistake_is_pointed_at(text: str, line: int, column: int, says: str) -> None:
    with pytest.raises(BadNotation) as caught:
        read(text)
    assert says in str(caught.value)
    assert (caught.value.line, caught.value.column) == (line, column)


@given(st.text(max_size=40))
def test_any_text_gives_chords_or_a_sentence(text: str) -> None:
    try:
        spans = read(text)
    except BadNotation as problem:
        line = problem.line
    else:
        assert sum(span.beats for span in spans) % 2 == 0
        return
    assert 1 <= line <= text.count("\n") + 1


@given(st.text(max_size=6))
def test_any_word_is_a_chord_or_a_sentence(text: str) -> None:
    try:
        chord = read_chord(text)
    except BadSettings as problem:
        said = str(problem)
    else:
        assert chord.words == text.replace("♭", "b").replace("♯", "#")
        return
    assert "where a chord should be" in said
