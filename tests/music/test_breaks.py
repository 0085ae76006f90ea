"""Laying a break: what each figure makes of a melody, and laws that hold for any break."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import LINES, NAMES, TUNINGS, charts, forms, in_form
from trainer.music.breaks import USUAL_PLANS, Break, LevelPlan, lay_break
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.form import played_bars, whole_form
from trainer.music.keys import chord_classes, shape_key
from trainer.music.laying import MOVING, Figure
from trainer.music.melody import HOLD, REST, MelodySlot, Note
from trainer.music.melody_text import MelodyReader, melody_lines
from trainer.music.notation import read_pattern, stroke_words, write_pattern
from trainer.music.pattern import Level, Meter
from trainer.music.source import Source, Word
from trainer.music.strokes import Kind, Stroke
from trainer.music.tuning import OPEN_G

ONE, FOUR = Chord(degree=1), Chord(degree=4)
NOTES = st.one_of(
    st.builds(Note, string=st.integers(1, 4), fret=st.integers(0, 22), accented=st.booleans()),
    st.builds(Note, string=st.integers(1, 4), fret=st.integers(2, 22), slid_from=st.just(1)),
    st.builds(Note, string=st.integers(1, 4), fret=st.integers(1, 22), by=st.just(Kind.SLIDE)),
)
TRIPLETS = st.builds(Note, string=st.integers(1, 4), fret=st.integers(0, 5), triplet=st.just((6, 0)))
SLOTS = st.one_of(
    st.just(HOLD),
    st.just(HOLD),
    st.builds(MelodySlot, note=NOTES),
    st.builds(MelodySlot, note=NOTES),
    st.just(REST),
    st.just(MelodySlot(brush=(2, 1))),
)
BEGINNINGS = SLOTS | st.builds(MelodySlot, note=TRIPLETS)
FIGURES = st.lists(st.sampled_from(Figure), min_size=1, max_size=4).map(tuple)


@st.composite
def bars_of(draw: st.DrawFn, beats: int, slots_per_beat: int) -> tuple[MelodySlot, ...]:
    """Any bar of melody."""
    slots: list[MelodySlot] = []
    for _ in range(beats):
        first = draw(BEGINNINGS)
        alone = first.note is not None and first.note.triplet
        rest = [HOLD if alone else draw(SLOTS) for _ in range(slots_per_beat - 1)]
        slots += [first, *rest]
    return tuple(slots)


@st.composite
def breaks(draw: st.DrawFn) -> Break:
    """Any break that a file can hold, without bars in words."""
    meter = draw(st.sampled_from(Meter))
    spb = draw(st.sampled_from(meter.slots_per_beat_choices))
    parts = draw(forms(meter.beats))
    parts = tuple(replace(part, pickup=spb * part.pickup) for part in parts)
    written = draw(st.lists(bars_of(meter.beats, spb), min_size=1, max_size=4).map(tuple))
    melody = in_form(written, parts)
    bars = len(melody)
    changed = st.dictionaries(st.integers(0, bars - 1), st.sampled_from(Figure), max_size=2).map(
        lambda found: tuple(sorted(found.items()))
    )
    plan = st.builds(LevelPlan, figures=FIGURES, changed=changed, teacher=LINES)
    return Break(
        name=draw(NAMES),
        title=draw(LINES.filter(lambda text: bool(text.strip())))[:60].strip() or "A tune",
        step=draw(st.integers(1, 99)),
        meter=meter,
        slots_per_beat=spb,
        chart=draw(charts(meter.beats * bars)),
        tuning=draw(TUNINGS),
        melody=melody,
        plans=draw(st.tuples(plan, plan, plan)),
        needs=(),
        slow_bpm=Fraction(50),
        goal_bpm=Fraction(100),
        parts=parts,
    )


def laid(
    melody: str,
    level: Level = Level.PLAIN,
    *,
    chord: Chord = ONE,
    meter: Meter = Meter.TWO_FOUR,
    figure: Figure = Figure.SKIP,
) -> list[str]:
    """Return the bars of a melody over one chord of G, in words."""
    source, spb = Source("tune", tuple(melody.split("\n"))), meter.slots_per_beat_choices[0]
    placed, _parts = MelodyReader(source, meter.beats, spb).read(Word(melody, 1, 1))
    bars = tuple(tuple(each.slot for each in bar) for bar in placed)
    bars += bars[-1:]  # the last bar of a part is not moved off its beats
    beats = len(bars) * meter.beats
    brk = Break(
        name="tune",
        title="Tune",
        step=1,
        meter=meter,
        slots_per_beat=spb,
        chart=Chart(key="G", spans=(ChordSpan(chord=chord, beats=beats),)),
        tuning=OPEN_G,
        melody=bars,
        plans=(
            LevelPlan(figures=(Figure.BASIC,)),
            LevelPlan(figures=(Figure.LEFT_HAND,)),
            LevelPlan(figures=(figure,)),
        ),
        needs=(),
        slow_bpm=Fraction(50),
        goal_bpm=Fraction(100),
    )
    return [", ".join(stroke_words(s) for s in bar) for bar in lay_break(brk, level).bars[:-1]]


@pytest.mark.parametrize(
    ("melody", "level", "bar"),
    [
        ("3, hold", Level.PLAIN, "strike 3 fret 0, rest, brush, thumb"),
        ("3, 2 fret 1", Level.PLAIN, "strike 3 fret 0, rest, strike 2 fret 1, thumb"),
        ("hold, 1", Level.PLAIN, "brush, thumb, strike 1 fret 0, thumb"),
        ("3 then 3 fret 2, hold", Level.PLAIN, "strike 3 fret 0, rest, brush, thumb"),
        (
            "3 then 3 fret 2, hold",
            Level.ORNAMENTS,
            "strike 3 fret 0, hammer-on 3 fret 2, brush 2 to 1, thumb",
        ),
        ("3 fret 2 then 3, hold", Level.ORNAMENTS, "strike 3 fret 2, pull-off 3 fret 0, brush, thumb"),
        (
            "3 then 2 fret 1, hold",
            Level.ORNAMENTS,
            "strike 3 fret 0, hammer-on 2 fret 1, brush frets 0 1 0, thumb",
        ),
        ("3 then 1, hold", Level.ORNAMENTS, "strike 3 fret 0, pull-off 1 fret 0, brush, thumb"),
        ("3 then 3, hold", Level.ORNAMENTS, "strike 3 fret 0, drop-thumb 3 fret 0, brush, thumb"),
        ("3, hold", Level.SKIPS, "skip, drop-thumb 3 fret 0, brush, thumb"),
        ("1, hold", Level.SKIPS, "strike 1 fret 0, rest, skip, drop-thumb 2 fret 0"),
        ("1, 3", Level.SKIPS, "strike 1 fret 0, rest, skip, drop-thumb 3 fret 0"),
        ("2, 1", Level.SKIPS, "skip, drop-thumb 2 fret 0, strike 1 fret 0, thumb"),
        ("1, 1 fret 2", Level.SKIPS, "strike 1 fret 0, rest, strike 1 fret 2, thumb"),
        ("3, rest", Level.PLAIN, "strike 3 fret 0, rest, rest, rest"),
        ("accented 3, 2", Level.SKIPS, "accented strike 3 fret 0, rest, skip, drop-thumb 2 fret 0"),
        ("3 fret 4 slid from 2, hold", Level.PLAIN, "strike 3 fret 4, rest, brush frets 4 0 0, thumb"),
        (
            "2 fret 3 slid from 1, hold",
            Level.ORNAMENTS,
            "strike 2 fret 3 slid from 1, rest, brush frets 0 3 0, thumb",
        ),
        ("3 triplet 2 0, hold", Level.ORNAMENTS, "strike 3 fret 0 triplet 2 0, rest, brush, thumb"),
        ("3, brush 2 to 1", Level.PLAIN, "strike 3 fret 0, rest, brush 2 to 1, thumb"),
        (
            "3 fret 2 then slide 3 fret 4, hold",
            Level.ORNAMENTS,
            "strike 3 fret 2, slide 3 fret 4, brush frets 4 0 0, thumb",
        ),
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
    assert laid("1, hold", chord=FOUR) == ["strike 1 fret 0, rest, brush frets 0 1 0, thumb"]


@pytest.mark.parametrize(
    ("melody", "bar"),
    [
        ("3, 2 fret 1", "strike 3 fret 0, drop-thumb 2 fret 1, skip, thumb"),
        ("1, 1 fret 2", "strike 1 fret 0, hammer-on 1 fret 2, skip, thumb"),
        ("hold, 4", "brush, drop-thumb 4 fret 0, skip, thumb"),
        ("3 then 3 fret 2, 2", "strike 3 fret 0, drop-thumb 2 fret 0, skip, thumb"),
        ("3, accented 2", "strike 3 fret 0, rest, accented strike 2 fret 0, thumb"),
        ("3, 1", "strike 3 fret 0, pull-off 1 fret 0, skip, thumb"),
        ("2, 2", "strike 2 fret 0, rest, strike 2 fret 0, thumb"),
        ("3 triplet 2 0, 2", "strike 3 fret 0 triplet 2 0, rest, strike 2 fret 0, thumb"),
    ],
)
def test_an_early_skip_brings_a_note_forward_where_a_hand_is_free(melody: str, bar: str) -> None:
    """The figure: common practice, no source."""
    assert laid(melody, Level.SKIPS, figure=Figure.EARLY_SKIP) == [bar]


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
def test_every_melody_note_on_a_beat_is_played_on_it_or_moved_half_a_unit(brk: Break, level: Level) -> None:
    pattern = lay_break(brk, level)
    spb = pattern.slots_per_beat
    strokes = pattern.strokes
    for at, slot in enumerate(slot for bar in brk.melody for slot in bar):
        note, stroke = slot.note, strokes[at]
        if note is None or at % spb:
            continue
        if stroke.kind is not Kind.SKIP:
            assert (stroke.strings, stroke.fret) == ((note.string,), note.fret)
            assert stroke.kind in (Kind.STRIKE, note.by)
            continue
        assert (note.accented, note.triplet, note.slid_from, note.by) == (False, (), None, None)
        width = 3 if spb == 3 else 2
        near = (strokes[at + width - 1], strokes[at - 1])  # late, or early
        assert ((note.string,), note.fret) in [(other.strings, other.fret) for other in near]


@given(breaks(), st.sampled_from(Level))
def test_brushes_and_added_thumb_notes_are_of_the_chord_or_hold_the_melody(brk: Break, level: Level) -> None:
    pattern = lay_break(brk, level)
    melody = {
        (n.string, fret) for bar in brk.melody for s in bar if (n := s.note) for fret in (n.fret, n.last_fret)
    }
    for at, stroke in enumerate(pattern.strokes):
        classes = chord_classes(brk.chart.chord_at(Fraction(at, pattern.slots_per_beat)), brk.chart.key)
        added = stroke.kind is Kind.DROP_THUMB and (stroke.strings[0], stroke.fret) not in melody
        if stroke.kind is Kind.BRUSH or added:
            notes = pattern.tuning.stroke_notes(stroke)
            places = zip(stroke.strings, stroke.all_frets, notes, strict=True)
            foreign = [(string, fret) for string, fret, note in places if note % 12 not in classes]
            assert set(foreign) <= melody
            assert len(foreign) <= 1


def test_a_tone_that_the_thumb_adds_is_not_held_under_the_next_chord() -> None:
    """The melody holds nothing; the thumb drops in a tone of b1, and the brush after it is of 1."""
    spans = tuple(ChordSpan(chord=Chord(degree=1, shift=shift), beats=3) for shift in (-1, 0))
    brk = Break(
        name="held", title="Held", step=1, meter=Meter.THREE_FOUR, slots_per_beat=4,
        chart=Chart(key="C", spans=spans), tuning=OPEN_G, melody=((HOLD,) * 12,) * 2,
        plans=(LevelPlan(figures=(Figure.SKIP,)),) * 3, needs=(),
        slow_bpm=Fraction(50), goal_bpm=Fraction(100),
    )  # fmt: skip
    laid = lay_break(brk, Level.PLAIN)
    assert any(stroke.kind is Kind.DROP_THUMB for stroke in laid.bars[0])
    for bar, span in zip(laid.bars, spans, strict=True):
        tones = set(chord_classes(span.chord, "C"))
        brushes = [stroke for stroke in bar if stroke.kind is Kind.BRUSH]
        assert brushes
        assert {note % 12 for stroke in brushes for note in laid.tuning.stroke_notes(stroke)} <= tones


def test_a_rest_goes_on_over_the_bar_line_until_the_next_note() -> None:
    """A rest from the last slot of bar 1: until the melody begins again nothing sounds in bar 2."""
    note, hold, rest = MelodySlot(note=Note(string=3, fret=2)), HOLD, MelodySlot(rest=True)
    brk = Break(
        name="rested", title="Rested", step=1, meter=Meter.TWO_FOUR, slots_per_beat=4,
        chart=Chart(key="C", spans=(ChordSpan(chord=Chord(degree=1), beats=4),)), tuning=OPEN_G,
        melody=((note, *(hold,) * 6, rest), (*(hold,) * 4, note, *(hold,) * 3)),
        plans=(LevelPlan(figures=(Figure.BASIC,)),) * 3, needs=(),
        slow_bpm=Fraction(50), goal_bpm=Fraction(100),
    )  # fmt: skip
    laid = lay_break(brk, Level.PLAIN)
    assert any(stroke.kind is Kind.BRUSH for stroke in laid.bars[0])
    assert not any(stroke.kind.sounds for stroke in laid.bars[1][:4])


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
    assert after.chart == Chart(key=key, spans=brk.chart.spans, mode=brk.chart.mode)
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
    melody = ((MelodySlot(note=Note(string=1)), HOLD, HOLD, HOLD),) * 2
    brk = Break(
        name="tune",
        title="Tune",
        step=1,
        meter=Meter.TWO_FOUR,
        slots_per_beat=2,
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


@given(breaks())
def test_any_melody_survives_being_written_and_read(brk: Break) -> None:
    text = "\n".join(melody_lines(brk.melody, brk.parts, brk.slots_per_beat))
    source = Source("tune", tuple(text.split("\n")))
    placed, parts = MelodyReader(source, brk.meter.beats, brk.slots_per_beat).read(Word(text, 1, 1))
    assert tuple(tuple(each.slot for each in bar) for bar in placed) == brk.melody
    assert parts == brk.parts


@given(breaks(), st.sampled_from(Level))
def test_the_last_bar_of_a_part_and_what_is_accented_stay_on_their_beats(brk: Break, level: Level) -> None:
    plain = replace(brk, plans=tuple(replace(plan, changed=()) for plan in brk.plans))  # type: ignore[arg-type]
    laid = lay_break(plain, level)
    for played, bar in zip(played_bars(brk.parts or whole_form(len(brk.melody))), laid.bars, strict=True):
        assert not played.is_last or Kind.SKIP not in {stroke.kind for stroke in bar}
    assert set(MOVING) == {Figure.SKIP, Figure.EARLY_SKIP}


@given(breaks(), st.sampled_from(Level))
def test_a_hammer_on_always_lands_on_a_fret(brk: Break, level: Level) -> None:
    strokes = lay_break(brk, level).strokes
    assert all((s.fret or 0) >= 1 for s in strokes if s.kind is Kind.HAMMER_ON)
