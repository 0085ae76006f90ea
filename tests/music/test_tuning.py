"""Tunings. Outside checks: music21 for pitches, equal temperament for frequencies."""

import pytest
from hypothesis import given
from music21 import pitch as m21pitch

from tests.strategies import TUNINGS
from trainer.errors import BadSettings
from trainer.music.notation import stroke_words
from trainer.music.strokes import Kind, Stroke
from trainer.music.tuning import (
    HIGHEST_NOTE,
    LOWEST_NOTE,
    NAMED_NOTES,
    OPEN_G,
    Tuning,
    note_to_hz,
    pitch_name,
    read_pitch,
    read_tuning,
)

HZ = 1e-9


@pytest.mark.parametrize("note", range(LOWEST_NOTE, HIGHEST_NOTE + 1))
def test_pitches_are_those_of_music21_and_of_equal_temperament(note: int) -> None:
    theirs = m21pitch.Pitch(pitch_name(note).replace("b", "-"))
    assert theirs.midi == note
    assert read_pitch(pitch_name(note)) == note
    assert note_to_hz(note) == pytest.approx(theirs.frequency, abs=HZ * theirs.frequency)
    assert note_to_hz(note) == pytest.approx(440 * 2 ** ((note - 69) / 12), rel=HZ)


@pytest.mark.parametrize(
    ("name", "pitches"),
    [
        ("open G", "G4 D3 G3 B3 D4"),
        ("double C", "G4 C3 G3 C4 D4"),
        ("sawmill", "G4 D3 G3 C4 D4"),
        ("open D", "F#4 D3 F#3 A3 D4"),
    ],
)
def test_named_tunings_have_their_pitches_from_string_five_to_one(name: str, pitches: str) -> None:
    """The pitches of each name: common practice, no source; their numbers: music21."""
    wanted = [m21pitch.Pitch(word).midi for word in pitches.split()]
    tuning = read_tuning(name)
    assert [tuning.note(string) for string in (5, 4, 3, 2, 1)] == wanted
    assert tuning.words == name
    assert read_tuning(pitches) == tuning


def test_open_d_with_the_short_string_at_a_is_written_as_five_pitches() -> None:
    tuning = read_tuning("a4 D3 F#3 A3 D4")
    assert tuning.note(5) == 69
    assert tuning.words == "a4 D3 F#3 A3 D4"
    assert tuning.notes[:4] == NAMED_NOTES["open D"][:4]


@given(TUNINGS)
def test_any_tuning_survives_being_written_and_read(tuning: Tuning) -> None:
    assert read_tuning(tuning.words, capo=tuning.capo) == tuning
    assert read_tuning(tuning.pitches, capo=tuning.capo) == tuning


def test_a_brush_over_a_shape_sounds_each_string_at_its_fret() -> None:
    brush = Stroke(kind=Kind.BRUSH, strings=(3, 2, 1), frets=(0, 1, 2))
    wanted = [m21pitch.Pitch(name).midi for name in ("G3", "C4", "E4")]
    assert list(OPEN_G.stroke_notes(brush)) == wanted
    assert Tuning(capo=2).stroke_notes(brush) == tuple(note + 2 for note in wanted)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("opn G", "did you mean open G"),
        ("banjo", "write open G, double C, sawmill, open D"),
        ("D3 G3 B3 D4", "found 4 pitches for 5 strings"),
        ("g4 D3 G3 B3 H4", '"H4" for a pitch'),
        ("g4 D3 G3 B3 D", '"D" for a pitch'),
        ("g4 D3 G3 B3 D9", "outside C2 to C6"),
        ("g4 D3 G3 B3 C0", "outside C2 to C6"),
        ("", "no tuning called"),
    ],
)
def test_what_is_no_tuning_is_said(text: str, says: str) -> None:
    with pytest.raises(BadSettings) as caught:
        read_tuning(text)
    assert says in str(caught.value)


def test_capitals_and_spaces_do_not_matter() -> None:
    assert read_tuning("  DOUBLE   c ") == read_tuning("double C")
    assert read_tuning("G4 d3 g3 b3 d4") == OPEN_G


@pytest.mark.parametrize(
    ("letters", "name"),
    [
        ("gDGBD", "open G"),
        ("gCGCD", "double C"),
        ("gCGBD", "drop C"),
        ("gCGCE", "open C"),
        ("aDADE", "double D"),
        ("f#DF#AD", "open D"),
        ("aEAC#E", "open A"),
        ("gDGCD", "sawmill"),
        ("aEADE", "sawmill A"),
        ("g D G B D", "open G"),
        ("gdgbd", "open G"),
        ("modal", "sawmill"),
    ],
)
def test_letters_from_string_five_to_one_name_a_tuning(letters: str, name: str) -> None:
    """The letters of the tunings: common practice, no source."""
    assert read_tuning(letters).words == name


@pytest.mark.parametrize(
    ("low", "high"), [("open G", "open A"), ("double C", "double D"), ("sawmill", "sawmill A")]
)
def test_a_tuning_of_a_is_that_of_g_two_frets_up(low: str, high: str) -> None:
    raised = read_tuning(low, capo=2)
    assert [raised.note(s) for s in (1, 2, 3, 4, 5)] == list(read_tuning(high).notes)


def test_the_short_string_is_stopped_at_frets_counted_along_the_neck() -> None:
    """It begins at the fifth fret: at the seventh g4 (67) sounds as a4 (69)."""
    stroke = Stroke(kind=Kind.THUMB, strings=(5,), fret=7)
    assert OPEN_G.stroke_notes(stroke) == (69,)
    assert OPEN_G.stroke_notes(Stroke(kind=Kind.THUMB, strings=(5,))) == (67,)
    assert stroke_words(stroke) == "thumb fret 7"
