"""Laying a break: what each figure makes of a melody, and laws that hold for any break."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import LINES, NAMES, TUNINGS, charts
from trainer.music.breaks import USUAL_PLANS, Break, Figure, LevelPlan, MelodyBeat, Note, lay_break
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.keys import chord_classes, shape_key
from trainer.music.melody_text import read_melody
from trainer.music.notation import read_pattern, stroke_words, write_pattern
from trainer.music.pattern import Level, Meter
from trainer.music.source import Source, Word
from trainer.music.strokes import Kind, Stroke
from trainer.music.tuning import OPEN_G

ONE, FOUR = Chord(degree=1), Chord(degree=4)
NOTES = st.builds(Note, string=st.integers(1, 4), fret=st.integers(0, 22))
BEATS = st.builds(MelodyBeat, note=st.none() | NOTES, then=st.none() | NOTES)
FIGURES = st.lists(st.sampled_from(Figure), min_size=1, max_size=4).map(tuple)


@st.composite
def breaks(draw: st.DrawFn) -> Break:
    """Any break that a file can hold, without bars in words."""
    meter = draw(st.sampled_from(Meter))
    bars = draw(st.integers(1, 6))
    melody = draw(st.tuples(*[st.tuples(*[BEATS] * meter.beats)] * bars))
    changed = st.dictionaries(st.integers(0, bars - 1), st.sampled_from(Figure), max_size=2).map(
        lambda found: tuple(sorted(found.items()))
    )
    plan = st.builds(LevelPlan, figures=FIGURES, changed=changed, teacher=LINES)
    return Break(
        name=draw(NAMES),
        title=draw(LINES.filter(lambda text: bool(text.strip())))[:60].strip() or "A tune",
        step=draw(st.integers(1, 99)),
        meter=meter,
        chart=draw(charts(meter.beats * bars)),
        tuning=draw(TUNINGS),
        melody=melody,
        plans=draw(st.tuples(plan, plan, plan)),
        needs=(),
        slow_bpm=Fraction(50),
        goal_bpm=Fraction(100),
    )


def laid(
    melody: str, level: Level = Level.PLAIN, *, chord: Chord = ONE, meter: Meter = Meter.TWO_FOUR
) -> list[str]:
    """Return the bars of a melody over one chord of G, in words."""
    bars = read_melody(Source("tune", tuple(melody.split("\n"))), Word(melody, 1, 1), meter.beats)
    beats = len(bars) * meter.beats
    brk = Break(
        name="tune",
        title="Tune",
        step=1,
        meter=meter,
        chart=Chart(key="G", spans=(ChordSpan(chord=chord, beats=beats),)),
        tuning=OPEN_G,
        melody=bars,
        plans=(
            LevelPlan(figures=(Figure.BASIC,)),
            LevelPlan(figures=(Figure.LEFT_HAND,)),
            LevelPlan(figures=(Figure.SKIP,)),
        ),
        needs=(),
        slow_bpm=Fraction(50),
        goal_bpm=Fraction(100),
    )
    return [", ".join(stroke_words(s) for s in bar) for bar in lay_break(brk, level).bars]


@pytest.mark.parametrize(
    ("melody", "level", "bar"),
    [
        ("3, hold", Level.PLAIN, "strike 3 fret 0, rest, brush, thumb"),
        ("3, 2 fret 1", Level.PLAIN, "strike 3 fret 0, rest, strike 2 fret 1, thumb"),
        ("hold, 1", Level.PLAIN, "brush, thumb, strike 1 fret 0, thumb"),
        ("3 then 3 fret 2, hold", Level.PLAIN, "strike 3 fret 0, rest, brush, thumb"),
        ("3 then 3 fret 2, hold", Level.ORNAMENTS, "strike 3 fret 0, hammer-on 3 fret 2, brush, thumb"),
        ("3 fret 2 then 3, hold", Level.ORNAMENTS, "strike 3 fret 2, pull-off 3 fret 0, brush, thumb"),
        ("3 then 2 fret 1, hold", Level.ORNAMENTS, "strike 3 fret 0, hammer-on 2 fret 1, brush, thumb"),
        ("3 then 1, hold", Level.ORNAMENTS, "strike 3 fret 0, pull-off 1 fret 0, brush, thumb"),
        ("3 then 3, hold", Level.ORNAMENTS, "strike 3 fret 0, drop-thumb 3 fret 0, brush, thumb"),
        ("3, hold", Level.SKIPS, "skip, drop-thumb 3 fret 0, brush, thumb"),
        ("1, hold", Level.SKIPS, "strike 1 fret 0, rest, skip, drop-thumb 2 fret 0"),
        ("1, 3", Level.SKIPS, "strike 1 fret 0, rest, skip, drop-thumb 3 fret 0"),
        ("2, 1", Level.SKIPS, "skip, drop-thumb 2 fret 0, strike 1 fret 0, thumb"),
        ("1, 1 fret 2", Level.SKIPS, "strike 1 fret 0, rest, strike 1 fret 2, thumb"),
        ("hold, 2", Level.SKIPS, "skip, drop-thumb 3 fret 0, strike 2 fret 0, thumb"),
        (
            "1 then 2, 1 then 2",
            Level.SKIPS,
            "strike 1 fret 0, drop-thumb 2 fret 0, strike 1 fret 0, drop-thumb 2 fret 0",
        ),
    ],
)
def test_each_figure_makes_its_strokes_of_a_melody(melody: str, level: Level, bar: str) -> None:
    """The figures: common practice, no source."""
    assert laid(melody, level) == [bar]


def test_a_brush_has_the_shape_of_the_chord_under_it() -> None:
    assert laid("1, hold", chord=FOUR) == ["strike 1 fret 0, rest, brush frets 0 1 2, thumb"]


def test_bars_of_three_and_of_six_are_filled() -> None:
    assert laid("3, hold, hold", meter=Meter.THREE_FOUR) == [
        "strike 3 fret 0, rest, brush, thumb, brush, thumb"
    ]
    assert laid("3, hold", meter=Meter.SIX_EIGHT) == ["strike 3 fret 0, rest, rest, brush, rest, thumb"]
    assert laid("3, hold", Level.SKIPS, meter=Meter.SIX_EIGHT) == [
        "skip, rest, drop-thumb 3 fret 0, brush, rest, thumb"
    ]


@given(breaks(), st.sampled_from(Level))
def test_any_break_is_laid_within_the_limits_and_comes_back_from_a_pattern_file(
    brk: Break, level: Level
) -> None:
    pattern = lay_break(brk, level)
    assert len(pattern.bars) == len(brk.melody) <= 64
    assert len(pattern.strokes) == len(pattern.bars) * pattern.slots_per_bar <= 1024
    assert pattern.chart is not None
    assert pattern.chart.beats == pattern.beats
    assert (pattern.chart, pattern.tuning, pattern.level) == (brk.chart, brk.tuning, level)
    assert read_pattern(write_pattern(pattern), name=pattern.name) == pattern


@given(breaks(), st.sampled_from(Level))
def test_every_melody_note_on_a_beat_is_played_on_it_or_dropped_in_after_it(brk: Break, level: Level) -> None:
    pattern = lay_break(brk, level)
    spb = pattern.slots_per_beat
    for beats, bar in zip(brk.melody, pattern.bars, strict=True):
        for at, beat in enumerate(beats):
            down, up = bar[at * spb], bar[at * spb + spb - 1]
            if beat.note is None:
                assert down.kind in (Kind.BRUSH, Kind.SKIP)
                continue
            carries = up if down.kind is Kind.SKIP else down
            assert (carries.strings, carries.fret) == ((beat.note.string,), beat.note.fret)
            assert carries.kind is (Kind.DROP_THUMB if down.kind is Kind.SKIP else Kind.STRIKE)


@given(breaks(), st.sampled_from(Level))
def test_brushes_and_added_thumb_notes_are_of_the_chord(brk: Break, level: Level) -> None:
    pattern = lay_break(brk, level)
    melody = {
        (n.string, n.fret) for bar in brk.melody for b in bar for n in (b.note, b.then) if n is not None
    }
    for at, stroke in enumerate(pattern.strokes):
        classes = chord_classes(brk.chart.chord_at(Fraction(at, pattern.slots_per_beat)), brk.chart.key)
        added = stroke.kind is Kind.DROP_THUMB and (stroke.strings[0], stroke.fret) not in melody
        if stroke.kind is Kind.BRUSH or added:
            assert {note % 12 for note in pattern.tuning.stroke_notes(stroke)} <= set(classes)


@given(breaks())
def test_the_plain_figure_asks_for_nothing_but_strikes_brushes_and_thumbs(brk: Break) -> None:
    plain = Break(**{f: getattr(brk, f) for f in brk.__slots__} | {"plans": tuple(USUAL_PLANS.values())})
    found = {s.kind for s in lay_break(plain, Level.PLAIN).strokes}
    assert found <= {Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.REST}
    assert Kind.SKIP not in {s.kind for s in lay_break(plain, Level.ORNAMENTS).strokes}


@given(breaks(), st.integers(0, 11))
def test_in_another_key_the_frets_stay_and_every_pitch_moves_with_the_key(brk: Break, steps: int) -> None:
    key = shape_key(brk.chart.key, -steps)
    before, after = (lay_break(each, Level.ORNAMENTS) for each in (brk, brk.in_key(key)))
    assert after.bars == before.bars
    assert after.chart == Chart(key=key, spans=brk.chart.spans)
    moved = after.tuning.capo - before.tuning.capo
    assert (moved - steps) % 12 == 0


def test_a_bar_in_words_keeps_its_strokes_and_gets_the_shape_under_a_bare_brush() -> None:
    words = (
        Stroke(kind=Kind.STRIKE, strings=(3,)),
        Stroke(kind=Kind.REST),
        Stroke(kind=Kind.BRUSH, strings=(3, 2, 1)),
        Stroke(kind=Kind.THUMB, strings=(5,)),
    )
    usual = USUAL_PLANS[Level.PLAIN]
    plan = LevelPlan(figures=usual.figures, changed=((0, words),), teacher="Mind the bar.")
    melody = ((MelodyBeat(note=Note(string=1)), MelodyBeat()),) * 2
    brk = Break(
        name="tune",
        title="Tune",
        step=1,
        meter=Meter.TWO_FOUR,
        chart=Chart(key="G", spans=(ChordSpan(chord=FOUR, beats=4),)),
        tuning=OPEN_G,
        melody=melody,
        plans=(plan, usual, usual),
        needs=("basic-figure",),
        slow_bpm=Fraction(50),
        goal_bpm=Fraction(100),
        teacher="Hum it.",
    )
    plain, ornaments = lay_break(brk, Level.PLAIN), lay_break(brk, Level.ORNAMENTS)
    assert [stroke_words(s) for s in plain.bars[0]] == ["strike 3", "rest", "brush frets 0 1 2", "thumb"]
    assert stroke_words(plain.bars[1][0]) == "strike 1 fret 0"
    assert (plain.teacher, ornaments.teacher) == ("Mind the bar.", "Hum it.")
    assert (plain.name, plain.title) == ("tune at plain", "Tune, plain")


@given(breaks(), st.sampled_from(Level))
def test_a_hammer_on_always_lands_on_a_fret(brk: Break, level: Level) -> None:
    strokes = lay_break(brk, level).strokes
    assert all((s.fret or 0) >= 1 for s in strokes if s.kind is Kind.HAMMER_ON)
