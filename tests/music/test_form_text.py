"""Parts, endings and pickups as text: what is played, and one sentence for each mistake."""

import pytest

from tests.data_of_music import BREAK_HEAD, PATTERN_HEAD
from trainer.errors import BadNotation
from trainer.music.breaks import Break, lay_break
from trainer.music.form import Part, played_bars
from trainer.music.notation import read_pattern, stroke_words, write_pattern
from trainer.music.pattern import Level, Pattern
from trainer.music.tune_files import read_tune

FIGURE = "strike {}, rest, brush, thumb"
FORM = "\n".join(
    [
        "part A, twice:", "pickup: strike 4, thumb", FIGURE.format(1), "first ending:", "strike 2, rest",
        "second ending:", FIGURE.format(3), "part B:", FIGURE.format(4), "strike 1, thumb",
    ]
)  # fmt: skip


def read(bars: str, more: str = "") -> Pattern:
    return read_pattern(f'{more}{PATTERN_HEAD}bars = """\n{bars}\n"""\n', name="stroll")


def test_parts_are_played_as_often_as_they_say_each_time_with_its_ending() -> None:
    pattern = read(FORM)
    firsts = [stroke_words(bar[0]) for bar in pattern.bars]
    assert firsts == ["strike 1", "strike 2", "strike 1", "strike 3", "strike 4", "strike 1"]
    assert pattern.parts == (
        Part(name="A", bars=1, times=2, endings=(1, 1), pickup=2),
        Part(name="B", bars=2),
    )
    assert [played.written for played in played_bars(pattern.parts)] == [0, 1, 0, 2, 3, 4]


def test_a_pickup_fills_the_bar_before_each_time_and_the_end_of_the_pass() -> None:
    pattern = read(FORM)
    assert pattern.pickup == 2
    for bar in (pattern.bars[1], pattern.bars[5]):
        assert [stroke_words(s) for s in bar[2:]] == ["strike 4", "thumb"]


def test_what_is_written_is_what_was_read() -> None:
    pattern = read(FORM)
    assert FORM in write_pattern(pattern)
    assert read_pattern(write_pattern(pattern), name="stroll") == pattern


def test_chords_may_have_the_same_parts_or_none() -> None:
    more = (
        'key = "A minor"\nchords = """\npart A, twice:\n1-\nfirst ending:\nb7\n'
        'second ending:\n1-\npart B:\n4, 1-\n"""\n'
    )
    pattern = read(FORM, more)
    assert pattern.chart is not None
    assert [(s.chord.words, s.beats) for s in pattern.chart.spans] == [
        ("1-", 2), ("b7", 2), ("1-", 4), ("4", 2), ("1-", 2),
    ]  # fmt: skip
    assert read(FORM, 'key = "Am"\nchords = "1- for 12"\n').chart is not None


def test_levels_of_a_break_keep_its_form() -> None:
    melody = 'chords = "1 for 8"\nmelody = """\npart A, twice:\npickup: 4\n3, 2\n3\n"""\n'
    brk = read_tune(BREAK_HEAD + melody, name="pond")
    assert isinstance(brk, Break)
    for level in Level:
        laid = lay_break(brk, level)
        assert [part.name for part in laid.parts] == ["A"]
        assert stroke_words(laid.bars[1][2]) == "strike 4 fret 0"


@pytest.mark.parametrize(
    ("bars", "line", "column", "says"),
    [
        ("part :\n" + FIGURE.format(1), 10, 1, "a part without a name"),
        ("part A, twyce:\n" + FIGURE.format(1), 10, 9, "did you mean twice"),
        ("part A, often:\n" + FIGURE.format(1), 10, 9, "write one of once, twice"),
        ("part A:", 10, 1, "part A has no bars"),
        (FIGURE.format(1) + "\npart A:\n" + FIGURE.format(1), 10, 1, "stand before the first part"),
        ("part A:\nfirst ending:\n" + FIGURE.format(1), 11, 1, "say how often the part is played"),
        ("part A, twice:\n" + FIGURE.format(1) + "\nsecond ending:\n", 12, 1, "write first ending:"),
        (
            "part A, twice:\n" + FIGURE.format(1) + "\nfirst ending:\n" + FIGURE.format(1),
            10,
            1,
            "played twice, has 1 endings",
        ),
        (
            "part A:\npickup: strike 3, thumb\n" + FIGURE.format(1),
            12,
            17,
            "stroke 3 stands in a bar of 2 slots",
        ),
        (
            "part A:\npickup: " + FIGURE.format(1) + "\n" + FIGURE.format(1),
            11,
            9,
            "this pickup has 4 strokes",
        ),
        ("part A:\n" + FIGURE.format(1) + "\npickup: thumb\n", 12, 1, "does not stand before a part"),
        ("part A:\npickup:\n" + FIGURE.format(1), 11, 1, "found pickup: with nothing after it"),
        ("part A:\npickup: thumb, thumb\n" + FIGURE.format(1), 11, 9, "slot 3 is a down slot"),
        ("strike 3, rest, pinch, thumb", 10, 17, "a falling hand leaves the thumb behind"),
        ("strike 3, up-brush, brush, thumb", 10, 11, "a rising hand plays with the thumb"),
        ("muted thumb, rest, brush, thumb", 10, 1, "a thumb is not muted"),
        ("strike 3 slid from 2, rest, brush, thumb", 10, 10, "name its fret first"),
        ("strike 3 fret 2 slid from 2, rest, brush, thumb", 10, 27, "the fret to slide from"),
        ("strike 3 fret 2 slid, rest, brush, thumb", 10, 17, "slid without where from"),
        ("strike 3 triplet 2, rest, brush, thumb", 10, 10, "these notes are no triplet"),
        ("strike 3 triplet 2 0, thumb, brush, thumb", 10, 1, "a triplet takes a whole beat"),
        ("strike 3, thumb fret 5, brush, thumb", 10, 22, "write a number from 6 to 22"),
    ],
)
def test_each_mistake_is_pointed_at(bars: str, line: int, column: int, says: str) -> None:
    with pytest.raises(BadNotation) as caught:
        read(bars)
    assert says in str(caught.value)
    assert (caught.value.line, caught.value.column) == (line, column)


def test_chords_of_another_form_are_refused_at_their_place() -> None:
    with pytest.raises(BadNotation, match="part A of the chords is not as A over them"):
        read(FORM, 'key = "G"\nchords = """\npart A:\n1 for 8\npart B:\n1 for 4\n"""\n')
    with pytest.raises(BadNotation, match="found a pickup among the chords"):
        read(FORM, 'key = "G"\nchords = """\npickup: 1\n1 for 12\n"""\n')
