"""Backup: any figure over any chart of its meter. Outside check: music21 names the notes of a lick."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key as m21key

from tests.shipped import shipped
from tests.strategies import CHORDS, TUNINGS, charts, patterns
from trainer.errors import BadSettings
from trainer.music.backup import BackupChart, lay_chart
from trainer.music.chart import Chart
from trainer.music.chords_text import read_chord, read_chords
from trainer.music.fretboard import shape_frets
from trainer.music.keys import chord_classes, pitch_class
from trainer.music.notation import read_pattern, stroke_words, write_pattern
from trainer.music.pattern import Meter, Pattern
from trainer.music.source import Source, Word
from trainer.music.strokes import Hand, Kind
from trainer.music.tuning import OPEN_G
from trainer.records.library import open_pattern

FIGURES = {pattern.name: pattern for pattern in shipped().patterns}


def in_g(chords: str, meter: Meter = Meter.TWO_FOUR) -> BackupChart:
    spans = read_chords(Source("c", (chords,)), Word(chords, 1, 1), meter.beats)
    return BackupChart(
        name="gate",
        title="Gate",
        meter=meter,
        chart=Chart(key="G", spans=spans),
        tuning=OPEN_G,
        figure="basic-figure",
    )


def words(chords: str, figure: str) -> list[str]:
    laid = lay_chart(in_g(chords, FIGURES[figure].meter), FIGURES[figure])
    return [", ".join(stroke_words(s) for s in bar) for bar in laid.bars]


@st.composite
def backups(draw: st.DrawFn, meter: Meter) -> BackupChart:
    """Any chart of a meter."""
    bars = draw(st.integers(1, 6))
    return BackupChart(
        name="gate",
        title="Gate",
        meter=meter,
        chart=draw(charts(meter.beats * bars, chords=CHORDS)),
        tuning=draw(TUNINGS),
        figure="any",
    )


def test_strikes_go_to_the_root_and_brushes_take_the_shape() -> None:
    """Roots and shapes in open G: common practice, no source."""
    assert words("1, 4, 5, 6-", "basic-figure") == [
        "strike 3 fret 0, rest, brush, thumb",
        "strike 2 fret 1, rest, brush frets 0 1 2, thumb",
        "strike 4 fret 0, rest, brush frets 2 3 4, thumb",
        "strike 4 fret 2, rest, brush frets 0 0 2, thumb",
    ]


def test_further_strikes_alternate_between_root_and_fifth() -> None:
    [bar] = words("1", "skip-on-the-second-beat")
    first = bar.split(", ")[0]
    assert first.startswith("strike 3")
    figure = replace(FIGURES["first-strikes"], meter=Meter.FOUR_FOUR)
    strike, rest = FIGURES["first-strikes"].bars[0][:2]
    figure = replace(figure, motion=FIGURES["first-strikes"].motion * 2, bars=((strike, rest) * 4,))
    laid = lay_chart(in_g("1", Meter.FOUR_FOUR), figure)
    notes = [OPEN_G.stroke_notes(s)[0] % 12 for s in laid.strokes if s.kind is Kind.STRIKE]
    assert notes == [7, 2, 7, 2]  # G, D, G, D


def test_root_and_fifth_take_turns_over_bars_and_begin_anew_with_each_chord() -> None:
    """Alternating bass: common practice, no source. By hand in G: G D G, then C G, then G."""
    figure = FIGURES["basic-figure"]
    laid = lay_chart(in_g("1 for 6, 4 for 4, 1 for 2"), figure)
    notes = [OPEN_G.stroke_notes(bar[0])[0] % 12 for bar in laid.bars]
    assert notes == [7, 2, 7, 0, 7, 7]


def test_without_a_chord_the_hand_goes_on_and_the_strings_are_damped() -> None:
    assert words("1, no chord", "skip-then-brush")[1] == "skip, rest, muted brush, rest"
    assert words("no chord", "hammer-on-after-strike") == ["muted strike 4, rest, muted brush, rest"]


def test_a_bass_that_is_named_takes_the_place_of_the_root() -> None:
    """G with B in the bass: string 2 open, or string 4 at fret 9: the lowest fret is string 2's."""
    assert words("1/3", "basic-figure") == ["strike 2 fret 0, rest, brush, thumb"]


def test_a_chord_that_changes_inside_a_bar_is_followed_at_its_beat() -> None:
    assert words("1 for 1, 4 for 1", "basic-figure") == ["strike 3 fret 0, rest, brush frets 0 1 2, thumb"]


@pytest.mark.parametrize("number", ["1", "4", "5", "6-", "2-"])
@pytest.mark.parametrize(
    ("figure", "direction"),
    [("hammer-on-after-strike", 1), ("slide-after-strike", 1), ("pull-off-after-strike", -1)],
)
def test_a_lick_leads_by_a_step_of_the_scale_to_a_tone_of_the_chord(
    number: str, figure: str, direction: int
) -> None:
    laid = lay_chart(in_g(number), FIGURES[figure])
    scale = {p.pitchClass for p in m21key.Key("G").pitches}
    chord = set(chord_classes(read_chord(number), "G"))
    struck, left = laid.bars[0][:2]
    start, end = (OPEN_G.stroke_notes(s)[0] for s in (struck, left))
    assert struck.strings == left.strings
    assert 1 <= (end - start) * direction <= 2
    assert start % 12 in scale
    assert end % 12 in chord
    assert left.kind is not Kind.SLIDE or (struck.fret or 0) >= 1
    assert max(struck.fret or 0, left.fret or 0) <= 7


@given(patterns(), st.data())
def test_any_figure_over_any_chart_of_its_meter_is_a_pattern_that_a_file_can_hold(
    figure: Pattern, data: st.DataObject
) -> None:
    backup = data.draw(backups(figure.meter))
    laid = lay_chart(backup, figure)
    assert (laid.chart, laid.tuning, laid.beats) == (backup.chart, backup.tuning, backup.chart.beats)
    assert (laid.level, laid.slow_bpm, laid.goal_bpm) == (figure.level, figure.slow_bpm, figure.goal_bpm)
    assert read_pattern(write_pattern(laid), name=laid.name) == laid
    for bar, strokes in enumerate(laid.bars):
        before = figure.bars[bar % len(figure.bars)]
        assert [(s.kind, s.accented) for s in strokes] == [(s.kind, s.accented) for s in before]


@given(patterns(), st.data())
def test_whatever_ends_a_move_sounds_a_tone_of_the_chord(figure: Pattern, data: st.DataObject) -> None:
    backup = data.draw(backups(figure.meter))
    laid = lay_chart(backup, figure)
    spb = laid.slots_per_beat
    for bar, strokes in enumerate(laid.bars):
        for slot, (stroke, after) in enumerate(pairwise((*strokes, strokes[0]))):
            leads = after.hand is Hand.LEFT and after.strings == stroke.strings and slot + 1 < len(strokes)
            if stroke.kind in (Kind.THUMB, Kind.SKIP, Kind.REST) or leads:
                continue
            chord = backup.chart.chord_at(bar * laid.meter.beats + Fraction(slot, spb))
            classes = set(chord_classes(chord, backup.chart.key))
            if stroke.kind is Kind.STRIKE:
                classes.add((pitch_class(backup.chart.key) + chord.lowest) % 12)
            assert {note % 12 for note in laid.tuning.stroke_notes(stroke)} <= classes
            if stroke.kind is Kind.BRUSH:
                wanted = shape_frets(chord, backup.chart.key, backup.tuning, stroke.strings)
                assert stroke.all_frets == wanted


def test_a_figure_of_another_meter_is_refused_with_what_would_fit() -> None:
    with pytest.raises(BadSettings, match="in-three is in 3/4 and gate in 2/4; choose a figure in 2/4"):
        lay_chart(in_g("1"), FIGURES["in-three"])


def test_the_name_tells_chart_and_figure_and_a_long_title_is_cut() -> None:
    laid = lay_chart(in_g("1"), replace(FIGURES["basic-figure"], title="T" * 80))
    assert laid.name == "gate with basic-figure"
    assert len(laid.title) == 80
    assert laid.title.endswith("…")


@pytest.mark.parametrize("figure", FIGURES)
def test_every_figure_of_the_library_can_be_laid_over_a_chart(figure: str) -> None:
    meter = FIGURES[figure].meter
    laid = lay_chart(in_g("1, 4, 5, 1", meter), FIGURES[figure])
    assert len(laid.bars) == 4
    assert max(f for s in laid.strokes for f in (*s.all_frets, 0)) <= 7


def test_a_chart_of_the_library_sounds_in_any_key_with_the_same_frets() -> None:
    library = shipped()
    usual, moved = (open_pattern(name, library) for name in ("the-miller-is-out", "the-miller-is-out in Bb"))
    assert moved.bars == usual.bars
    assert moved.tuning.capo == 3
    assert moved.name == "the-miller-is-out with basic-figure in Bb"
