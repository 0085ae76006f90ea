"""Chords on the neck. Outside check: music21 names what the shapes sound."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import chord as m21chord

from tests.strategies import CHORDS, TUNINGS
from trainer.music.chart import Chord, Tones
from trainer.music.chords_text import read_chord
from trainer.music.fretboard import (
    HIGHEST_SHAPE_FRET,
    chord_frets,
    chord_shape,
    scale_step,
    shape_frets,
    tone_places,
)
from trainer.music.keys import KEYS, chord_classes, pitch_class, root_letters
from trainer.music.tuning import OPEN_G, Tuning, read_tuning


@pytest.mark.parametrize(
    ("tuning", "key", "chord", "shape"),
    [
        ("open G", "G", "1", (0, 0, 0, 0)),
        ("open G", "G", "4", (2, 0, 1, 2)),
        ("open G", "G", "5", (0, 2, 3, 4)),
        ("open G", "G", "6-", (2, 0, 0, 2)),
        ("open G", "G", "2-", (2, 2, 1, 2)),
        ("open G", "G", "b7", (3, 2, 1, 3)),
        ("double C", "C", "1", (0, 0, 0, 2)),
        ("double C", "C", "4", (0, 2, 0, 3)),
        ("open D", "D", "1", (0, 0, 0, 0)),
        ("sawmill", "G", "b7", (3, 2, 0, 3)),
        ("open G", "G", "5^7", (0, 2, 1, 0)),
        ("open A", "A", "4", (2, 0, 1, 2)),
        ("double D", "D", "4", (0, 2, 0, 3)),
    ],
)
def test_shapes_are_the_ones_that_players_take(
    tuning: str, key: str, chord: str, shape: tuple[int, ...]
) -> None:
    """Common practice, no source."""
    assert chord_shape(read_chord(chord), key, read_tuning(tuning)) == shape


@pytest.mark.parametrize("key", ["G", "C", "D", "A"])
@pytest.mark.parametrize(
    "number", ["1", "4", "5", "6-", "2-", "b7", "5^7", "2-7", "1maj7", "7dim", "4sus4", "1/3"]
)
@pytest.mark.parametrize("capo", [0, 2])
def test_music21_finds_the_chord_in_every_whole_shape_in_open_g(key: str, number: str, capo: int) -> None:
    tuning, chord = Tuning(capo=capo), read_chord(number)
    shape = chord_shape(chord, key, tuning)
    notes = [tuning.note(string, fret) for string, fret in zip((4, 3, 2, 1), shape, strict=True)]
    heard = m21chord.Chord(notes)
    wanted = m21chord.Chord([60 + tone for tone in chord_classes(chord, key)])
    assert set(heard.pitchClasses) <= set(wanted.pitchClasses)
    if set(heard.pitchClasses) == set(wanted.pitchClasses):
        letters = root_letters(chord, key)
        if chord.tones is not Tones.SUSPENDED:  # music21 hears G C D as C with a suspended second as well
            assert heard.root().pitchClass == pitch_class(letters)
            diminished = chord.tones is Tones.DIMINISHED
            assert heard.quality == ("diminished" if diminished else "minor" if chord.minor else "major")


@given(CHORDS, st.sampled_from(KEYS), TUNINGS)
def test_in_any_tuning_a_shape_sounds_the_chord_and_nothing_else(
    chord: Chord, key: str, tuning: Tuning
) -> None:
    shape = chord_shape(chord, key, tuning)
    classes = chord_classes(chord, key)
    for string, fret in zip((4, 3, 2, 1), shape, strict=True):
        assert 0 <= fret <= HIGHEST_SHAPE_FRET
        assert tuning.note(string, fret) % 12 in classes
        assert fret in chord_frets(chord, key, tuning, string)
    assert shape_frets(chord, key, tuning, (3, 2, 1)) == shape[1:]


@given(CHORDS, st.sampled_from(KEYS), TUNINGS)
def test_places_are_root_then_fifth_then_third_at_their_lowest_frets(
    chord: Chord, key: str, tuning: Tuning
) -> None:
    places = tone_places(chord, key, tuning)
    assert places
    _root, third, fifth, *_seventh = chord_classes(chord, key)
    lowest = (pitch_class(key) + chord.lowest) % 12
    found = [tuning.note(place.string, place.fret) % 12 for place in places]
    assert found == [tone for tone in dict.fromkeys((lowest, fifth, third)) if tone in found]
    for place, tone in zip(places, found, strict=True):
        lower = [
            (string, fret)
            for string in (1, 2, 3, 4)
            for fret in range(place.fret)
            if tuning.note(string, fret) % 12 == tone
        ]
        assert lower == []


def test_the_scale_goes_by_half_and_whole_steps() -> None:
    """B to C is a half step and C to D a whole one, in G as in C: string 2 of open G."""
    places = tone_places(Chord(degree=4), "G", OPEN_G)
    assert (places[0].string, places[0].fret) == (2, 1)
    assert scale_step("G", OPEN_G, places[0], -1) == 0
    assert scale_step("G", OPEN_G, places[0], 1) == 3
