"""The text of patterns: round trips, and one clear sentence for each mistake."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import patterns
from trainer.errors import BadNotation
from trainer.music.notation import read_pattern, stroke_words, write_pattern
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind, Motion, Stroke
from trainer.music.toml_text import MAX_FILE_BYTES

GOOD = '''title = "Stroll"
level = "skips"
step = 9
meter = "2/4"
slots_per_beat = 2
slow_bpm = 50
goal_bpm = 97.3
needs = ["basic-figure"]
teacher = "Let it fall."
bars = """
skip, drop-thumb 2, brush, thumb
accented strike 3 fret 2, hammer-on 1 fret 3, brush 4 to 1, rest  # a remark
"""
'''


def read(text: str) -> Pattern:
    return read_pattern(text, name="stroll", source="stroll.toml")


def failure(text: str) -> BadNotation:
    with pytest.raises(BadNotation) as caught:
        read(text)
    return caught.value


@given(patterns())
def test_any_pattern_survives_being_written_and_read(pattern: Pattern) -> None:
    assert read_pattern(write_pattern(pattern), name=pattern.name) == pattern


@given(patterns())
def test_written_text_is_toml_for_an_independent_reader(pattern: Pattern) -> None:
    """Outside check: TOML 1.0 as the standard library reads it."""
    table = tomllib.loads(write_pattern(pattern))
    assert table["title"] == pattern.title
    lines = table["bars"].strip().split("\n")
    written = [line for line in lines if not line.endswith(":") and not line.startswith("pickup:")]
    assert len(written) == (sum(part.written for part in pattern.parts) or len(pattern.bars))


def test_words_become_the_strokes_they_say() -> None:
    pattern = read(GOOD)
    assert pattern.bars[0] == (
        Stroke(kind=Kind.SKIP),
        Stroke(kind=Kind.DROP_THUMB, strings=(2,)),
        Stroke(kind=Kind.BRUSH, strings=(3, 2, 1)),
        Stroke(kind=Kind.THUMB, strings=(5,)),
    )
    assert pattern.bars[1][:3] == (
        Stroke(kind=Kind.STRIKE, strings=(3,), fret=2, accented=True),
        Stroke(kind=Kind.HAMMER_ON, strings=(1,), fret=3),
        Stroke(kind=Kind.BRUSH, strings=(4, 3, 2, 1)),
    )
    assert [stroke_words(s) for s in pattern.bars[1]] == [
        "accented strike 3 fret 2",
        "hammer-on 1 fret 3",
        "brush 4 to 1",
        "rest",
    ]


def test_a_decimal_tempo_is_kept_exactly_as_written() -> None:
    assert read(GOOD).goal_bpm * 10 == 973


def test_windows_line_ends_and_a_byte_order_mark_are_read_the_same() -> None:
    assert read("\ufeff" + GOOD.replace("\n", "\r\n")) == read(GOOD)


def test_bars_parted_by_strokes_of_the_pen_are_the_same_as_lines() -> None:
    one_line = GOOD.replace("brush, thumb\naccented", "brush, thumb | accented")
    assert read(one_line).bars == read(GOOD).bars


def test_bars_in_single_quotes_or_on_one_line_are_read_too() -> None:
    start = GOOD.index("bars =")
    assert read(GOOD[:start] + "bars = 'skip, drop-thumb 2, brush, thumb'\n").bars == read(GOOD).bars[:1]


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "says"),
    [
        ("skip, drop", "skp, drop", 11, 1, "did you mean skip"),
        ("drop-thumb 2", "drop-thumb 5", 11, 18, "a number from 1 to 4"),
        ("drop-thumb 2", "drop-thumb 0", 11, 18, "a number from 1 to 4"),
        ("drop-thumb 2", "drop-thumb", 11, 7, "names no string"),
        ("skip, drop-thumb 2", "thumb, drop-thumb 2", 11, 1, "slot 1 is a down slot"),
        ("drop-thumb 2", "strike 2", 11, 7, "slot 2 is an up slot"),
        ("brush, thumb\n", "brush\n", 11, 1, "this bar has 3 of its 4 strokes"),
        ("brush, thumb\n", "brush, thumb, skip\n", 11, 35, "stroke 5 stands in a bar of 4 slots"),
        ("brush, thumb\n", "brush thumb\n", 11, 27, "put a comma before the next stroke"),
        ("skip, drop-thumb 2", "skip drop-thumb 2", 11, 6, "put a comma before the next stroke"),
        ("brush, thumb\n", "brush,, thumb\n", 11, 27, "found nothing between two commas"),
        ("brush, thumb\n", "brush 1 to 4, thumb\n", 11, 32, "does not fall"),
        ("brush, thumb\n", "brush 1, thumb\n", 11, 27, "a brush names one string"),
        ("fret 2", "fret 23", 12, 24, "a number from 0 to 22"),
        ("fret 3", "fret 0", 12, 44, "a number from 1 to 22"),
        ("fret 2", "fret", 12, 19, "without a number"),
        ("skip, drop", "accented skip, drop", 11, 1, "cannot be accented"),
        ("thumb\nacc", "thumb fret 5\nacc", 11, 39, "a number from 6 to 22"),
        ("skip, drop", "skip fret 2, drop", 11, 6, "takes no fret"),
        ('"2/4"', '"7/8"', 4, 9, "2/4, 3/4, 4/4, 6/8"),
        ("beat = 2", "beat = 5", 5, 18, "from 2 to 4"),
        ("beat = 2", "beat = true", 5, 18, "from 2 to 4"),
        ("slow_bpm = 50", "slow_bpm = 120", 7, 12, "below slow_bpm"),
        ("97.3", "401", 7, 12, "from 20 to 400"),
        ("97.3", "nan", 7, 12, "outside all that can be meant"),
        ("97.3", "1e999999999", 7, 12, "outside all that can be meant"),
        ('"skips"', '"hard"', 2, 9, "plain, ornaments, skips"),
        ('"Stroll"', '" "', 1, 9, "title is empty"),
        ('"Stroll"', "7", 1, 9, "not text"),
        ("step = 9", "step = 0", 3, 8, "from 1 to 999"),
        ('["basic-figure"]', '["Basic Figure"]', 8, 9, "small letters"),
        ('["basic-figure"]', '["stroll"]', 8, 9, "needs itself"),
        ('["basic-figure"]', '"basic-figure"', 8, 9, "list of names"),
        ("teacher =", "teachr =", 9, 10, "did you mean teacher"),
        ("step = 9", "step = ", 3, 8, "not TOML"),
    ],
)
def test_each_mistake_is_pointed_at(old: str, new: str, line: int, column: int, says: str) -> None:
    assert old in GOOD
    problem = failure(GOOD.replace(old, new, 1))
    assert says in str(problem)
    assert (problem.line, problem.column) == (line, column)
    shown, caret = str(problem).split("\n")[-2:]
    assert caret.index("^") == 4 + column - 1
    assert shown[4:] == problem.line_text


def test_a_missing_key_is_named() -> None:
    assert "the key bars is missing" in str(failure(GOOD[: GOOD.index("bars =")]))


def test_an_unclosed_text_points_into_the_file() -> None:
    problem = failure(GOOD.rstrip()[:-3])
    assert 1 <= problem.line <= GOOD.count("\n") + 1
    assert "not TOML" in str(problem)


def test_escapes_in_bars_are_refused_because_places_would_lie() -> None:
    text = GOOD.replace("skip, drop-thumb 2, brush, thumb\n", "skip, drop-thumb 2, brush,\\t thumb\n")
    assert "holds an escape" in str(failure(text))


def test_too_many_bytes_bars_and_strokes_are_refused() -> None:
    assert "at most 65536 are read" in str(failure(GOOD + "#" * MAX_FILE_BYTES))
    bar = "skip, drop-thumb 2, brush, thumb\n"
    assert "this is bar 65" in str(failure(GOOD.replace(bar, bar * 64)))
    wide = GOOD.replace('"2/4"', '"4/4"').replace("beat = 2", "beat = 4")
    start = wide.index("skip,")
    line = ", ".join(["skip, rest"] * 8)
    text = wide[:start] + f"{line}\n" * 65 + '"""\n'
    assert "this is bar 65" in str(failure(text))
    assert len(read(wide[:start] + f"{line}\n" * 64 + '"""\n').strokes) == 1024


def test_six_eight_has_two_beats_of_three_slots() -> None:
    text = GOOD.replace('"2/4"', '"6/8"')
    assert "write 3" in str(failure(text))
    start = text.index("skip,")
    body = 'strike 3, strike 2, thumb, brush, rest, thumb\n"""\n'
    pattern = read((text[:start] + body).replace("beat = 2", "beat = 3"))
    assert pattern.motion == (Motion.DOWN, Motion.DOWN, Motion.UP) * 2
    assert pattern.beats == 2


def test_a_motion_of_ones_own_moves_what_a_slot_takes() -> None:
    text = GOOD.replace("bars =", 'motion = "up, down, up, down"\nbars =')
    assert "slot 1 is an up slot" in str(failure(text))
    short = failure(GOOD.replace("bars =", 'motion = "up, down"\nbars ='))
    assert "motion has 2 slots" in str(short)


@given(st.text(max_size=200))
def test_any_text_at_all_gives_a_pattern_or_a_sentence(text: str) -> None:
    with pytest.raises(BadNotation):
        read(text)


@given(st.integers(0, len(GOOD) - 1), st.characters())
def test_any_single_slip_gives_a_pattern_or_a_sentence(at: int, char: str) -> None:
    slipped = GOOD[:at] + char + GOOD[at + 1 :]
    try:
        pattern = read(slipped)
    except BadNotation as problem:
        line = problem.line
    else:
        assert read(write_pattern(pattern)) == pattern
        return
    assert 1 <= line <= slipped.count("\n") + 2


def test_strokes_that_no_hand_can_make_are_refused() -> None:
    for bad in (
        {"kind": Kind.STRIKE},
        {"kind": Kind.STRIKE, "strings": (5,)},
        {"kind": Kind.THUMB, "strings": (4,)},
        {"kind": Kind.BRUSH, "strings": (1, 2)},
        {"kind": Kind.SKIP, "accented": True},
        {"kind": Kind.BRUSH, "strings": (2, 1), "fret": 3},
    ):
        with pytest.raises(ValueError, match="cannot"):
            Stroke(**bad)  # type: ignore[arg-type]


def test_every_kind_belongs_to_one_hand() -> None:
    assert {kind.hand for kind in Kind} == set(Hand)
