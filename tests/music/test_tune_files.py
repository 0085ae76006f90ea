"""Break and chart files: what they say is what is read, and each mistake is pointed at."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadNotation
from trainer.music.backup import BackupChart
from trainer.music.breaks import USUAL_PLANS, Break, lay_break
from trainer.music.laying import Figure
from trainer.music.melody import HOLD, MelodySlot, Note
from trainer.music.notation import read_pattern, stroke_words
from trainer.music.pattern import Level, Pattern
from trainer.music.tune_files import Tune, read_tune

BREAK = '''kind = "break"
title = "Pond"
step = 4
key = "A"
capo = 2
tuning = "open G"
meter = "2/4"
slow_bpm = 50
goal_bpm = 97.3
needs = ["basic-figure"]
teacher = "Hum it."
chords = """
1, 4 for 1, b7 for 1   # a remark
#4 | 1
"""
melody = """
3 then 3 fret 2, hold
2 open, 1 fret 2 | 4 fret 4, hold then 1
1, hold
"""

[skips]
figures = "skip, basic"
teacher = "Wait."
needs = ["skip-figure"]
bars = """
bar 2: left hand
bar 4: skip, drop-thumb 2, brush, thumb
"""
'''
CHART = """kind = "chart"
title = "Gate"
key = "Bb"
tuning = "g4 C3 G3 C4 D4"
meter = "3/4"
figure = "in-three"
chords = "1 for 6, 4"
"""
PATTERN = """title = "Stroll"
level = "plain"
step = 9
meter = "2/4"
slots_per_beat = 2
slow_bpm = 50
goal_bpm = 100
tuning = "sawmill"
capo = 3
key = "Bb"
chords = "1-"
bars = "strike 3, rest, brush frets 2 0 1, thumb"
"""


def read(text: str) -> Tune:
    return read_tune(text, name="pond", source="pond.toml")


def failure(text: str) -> BadNotation:
    with pytest.raises(BadNotation) as caught:
        read(text)
    return caught.value


def test_a_break_is_what_its_file_says() -> None:
    brk = read(BREAK)
    assert isinstance(brk, Break)
    assert (brk.name, brk.title, brk.step, brk.needs, brk.teacher) == (
        "pond",
        "Pond",
        4,
        ("basic-figure",),
        "Hum it.",
    )
    assert (brk.chart.key, brk.tuning.capo, brk.tuning.words) == ("A", 2, "open G")
    assert [(s.chord.words, s.beats) for s in brk.chart.spans] == [
        ("1", 2),
        ("4", 1),
        ("b7", 1),
        ("#4", 2),
        ("1", 2),
    ]
    assert brk.melody == (
        (MelodySlot(note=Note(string=3)), MelodySlot(note=Note(string=3, fret=2)), HOLD, HOLD),
        (MelodySlot(note=Note(string=2)), HOLD, MelodySlot(note=Note(string=1, fret=2)), HOLD),
        (MelodySlot(note=Note(string=4, fret=4)), HOLD, HOLD, MelodySlot(note=Note(string=1))),
        (MelodySlot(note=Note(string=1)), HOLD, HOLD, HOLD),
    )


def test_levels_are_as_usual_but_for_what_a_section_changes() -> None:
    brk = read(BREAK)
    assert isinstance(brk, Break)
    assert brk.plan(Level.PLAIN) == USUAL_PLANS[Level.PLAIN]
    skips = brk.plan(Level.SKIPS)
    assert (skips.figures, skips.teacher, skips.needs) == (
        (Figure.SKIP, Figure.BASIC),
        "Wait.",
        ("skip-figure",),
    )
    assert skips.of_bar(1, 1, is_last=False) is Figure.LEFT_HAND
    laid = lay_break(brk, Level.SKIPS)
    assert [stroke_words(s) for s in laid.bars[3]] == ["skip", "drop-thumb 2", "brush", "thumb"]
    assert laid.needs == ("basic-figure", "skip-figure")


def test_a_chart_is_what_its_file_says() -> None:
    chart = read(CHART)
    assert isinstance(chart, BackupChart)
    assert (chart.title, chart.figure, chart.bars, chart.chart.key) == ("Gate", "in-three", 3, "Bb")
    assert chart.tuning.words == "double C"


def test_a_pattern_may_say_its_chords_and_its_tuning() -> None:
    pattern = read(PATTERN)
    assert isinstance(pattern, Pattern)
    assert pattern.chart is not None
    assert (pattern.chart.key, pattern.chart.beats, pattern.tuning.capo) == ("Bb", 2, 3)
    assert pattern.bars[0][2].frets == (2, 0, 1)
    assert read('kind = "pattern"\n' + PATTERN) == pattern
    assert read_pattern(PATTERN, name="pond") == pattern


@pytest.mark.parametrize(
    ("text", "old", "new", "line", "column", "says"),
    [
        (BREAK, '"break"', '"tune"', 1, 8, "pattern, break, chart"),
        (BREAK, '"A"', '"A#"', 4, 7, "write Bb"),
        (BREAK, "capo = 2", "capo = 13", 5, 8, "from 0 to 12"),
        (BREAK, '"open G"', '"open H"', 6, 10, "did you mean"),
        (BREAK, "4 for 1", "4 for x", 13, 10, "beats of a chord"),
        (BREAK, "#4 | 1", "#4", 12, 10, "the chords last 3 bars and there are 4"),
        (BREAK, "3 then 3 fret 2", "5 then 3 fret 2", 17, 1, "from 1 to 4"),
        (BREAK, "3 then 3 fret 2", "3 then", 17, 3, "then without a note"),
        (BREAK, "3 fret 2, hold", "3 fret 23, hold", 17, 15, "from 0 to 22"),
        (BREAK, "3 fret 2, hold", "3 fret, hold", 17, 10, "fret without a number"),
        (BREAK, "1 fret 2 |", "1 fret 2, 1 |", 18, 19, "beat 3 stands in a bar of 2"),
        (BREAK, "2 open, 1 fret 2 |", "2 open |", 18, 1, "this bar has 1 of its 2 beats"),
        (BREAK, "4 fret 4, hold", "4 fret 4,, hold", 18, 31, "beat 3 stands"),
        (BREAK, "2 open, 1 fret 2 |", "2 open,  |", 18, 8, "nothing between two commas"),
        (BREAK, "1 fret 2 |", "1 fret 2 | |", 18, 19, "an empty bar"),
        (BREAK, "2 open,", "B open,", 18, 1, "where a note should be"),
        (BREAK, "2 open,", "2 open 3,", 18, 8, "put a comma before the next beat"),
        (BREAK, "1, hold\n", "1, hodl\n", 19, 4, "did you mean hold"),
        (BREAK, "[skips]", "[skip]", 22, 2, "did you mean skips"),
        (BREAK, "figures =", "figure =", 23, 10, "did you mean figures"),
        (BREAK, '"skip, basic"', '"skip, bassic"', 23, 11, "did you mean basic"),
        (BREAK, "bar 2:", "bar 9:", 27, 5, "found bar 9 in a break of 4"),
        (BREAK, "bar 2:", "bar 4:", 28, 5, "a second time"),
        (BREAK, "bar 2: left", "left", 27, 1, "begin it with, say, bar 4:"),
        (BREAK, "drop-thumb 2", "drop-thumb 5", 28, 25, "from 1 to 4"),
        (BREAK, "skip, drop", "skp, drop", 28, 8, "did you mean skip"),
        (BREAK, 'kind = "break"\n', 'kind = "break"\nbars = ""\n', 2, 8, "found the key bars, which breaks"),
        (BREAK, "goal_bpm = 97.3", "goal_bpm = 40", 9, 12, "below slow_bpm"),
        (CHART, 'figure = "in-three"\n', "", 1, 1, "the key figure is missing"),
        (CHART, '"in-three"', '"In Three"', 6, 10, "write a pattern's name"),
        (CHART, "1 for 6, 4", "1 for 6, 4 for 2", 7, 20, "2 beats into a bar of 3"),
        (CHART, "g4 C3", "g4 C", 4, 10, "C"),
        (PATTERN, 'key = "Bb"\n', "", 10, 10, "found chords without key"),
        (PATTERN, 'chords = "1-"\n', "", 10, 7, "found key without chords"),
        (PATTERN, '"1-"', '"1-, 4"', 11, 10, "the chords last 2 bars and there are 1"),
        (PATTERN, "frets 2 0 1", "frets 2 0", 12, 31, "found 2 frets for 3 strings"),
        (PATTERN, "frets 2 0 1", "fret 2", 12, 31, "write frets, one for each string"),
        (PATTERN, "frets 2 0 1", "frets 2 0 1 1", 12, 43, "put a comma"),
    ],
)
def test_each_mistake_is_pointed_at(text: str, old: str, new: str, line: int, column: int, says: str) -> None:
    assert old in text
    problem = failure(text.replace(old, new, 1))
    assert says in str(problem)
    assert (problem.line, problem.column) == (line, column)
    shown, caret = str(problem).split("\n")[-2:]
    assert caret.index("^") == 4 + column - 1
    assert shown[4:] == problem.line_text


@given(st.sampled_from([BREAK, CHART, PATTERN]), st.data())
def test_any_single_slip_gives_a_tune_or_a_sentence_with_a_place(text: str, data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(text) - 1))
    slipped = text[:at] + data.draw(st.characters()) + text[at + 1 :]
    try:
        tune = read(slipped)
    except BadNotation as problem:
        line = problem.line
    else:
        assert tune.title
        if isinstance(tune, Break):
            assert all(lay_break(tune, level).strokes for level in Level)
        return
    assert 1 <= line <= slipped.count("\n") + 2


def test_a_section_that_is_no_section_and_a_text_without_a_line_are_pointed_at() -> None:
    text = BREAK[: BREAK.index("[skips]")]
    assert "skips is not a section" in str(failure("skips = 3\n" + text))
    inline = failure('skips = { bars = "bar 1: skip" }\n' + text)
    assert "does not stand on a line of its own" in str(inline)
    dotted = read('skips.bars = "bar 1: skip"\n' + text)
    assert isinstance(dotted, Break)
    assert dotted.plan(Level.SKIPS).of_bar(0, 0, is_last=False) is Figure.SKIP
