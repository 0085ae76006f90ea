"""Letters, pitch classes and the capo. Outside check: music21, a general music library."""

import pytest
from music21 import chord as m21chord
from music21 import interval as m21interval
from music21 import key as m21key
from music21 import pitch as m21pitch

from trainer.errors import BadSettings
from trainer.music.chart import Chord
from trainer.music.keys import (
    KEYS,
    PLAINEST_KEYS,
    capo_for,
    chord_classes,
    chord_letters,
    pitch_class,
    read_key,
    root_letters,
    shape_key,
    sounding_key,
)

EVERY_CHORD = [
    Chord(degree=degree, shift=shift, minor=minor)
    for degree in range(1, 8)
    for shift in (-1, 0, 1)
    for minor in (False, True)
]


def m21_note(letters: str) -> m21pitch.Pitch:
    """music21 writes a flat as a minus sign."""
    return m21pitch.Pitch(letters[0] + letters[1:].replace("b", "-"))


@pytest.mark.parametrize("key", KEYS)
def test_roots_are_spelled_as_music21_spells_the_degrees_of_the_scale(key: str) -> None:
    scale = m21key.Key(m21_note(key).name)
    for degree in range(1, 8):
        wanted = scale.pitchFromDegree(degree).name.replace("-", "b")
        assert root_letters(Chord(degree=degree), key) == wanted


@pytest.mark.parametrize("key", KEYS)
def test_sharp_and_flat_degrees_are_spelled_as_music21_transposes_them(key: str) -> None:
    scale = m21key.Key(m21_note(key).name)
    for degree in range(1, 8):
        for shift, step in ((1, "A1"), (-1, "d1")):
            chromatic = m21interval.Interval(step)
            wanted = chromatic.transposePitch(scale.pitchFromDegree(degree)).name.replace("-", "b")
            assert root_letters(Chord(degree=degree, shift=shift), key) == wanted


@pytest.mark.parametrize("key", KEYS)
def test_pitch_classes_and_quality_are_those_of_music21s_chord(key: str) -> None:
    for chord in EVERY_CHORD:
        root = m21_note(root_letters(chord, key))
        third, fifth = ("m3", "P5") if chord.minor else ("M3", "P5")
        tones = [root, *(m21interval.Interval(name).transposePitch(root) for name in (third, fifth))]
        assert chord_classes(chord, key) == tuple(tone.pitchClass for tone in tones)
        built = m21chord.Chord(tones)
        assert built.quality == ("minor" if chord.minor else "major")
        assert built.root().name == root.name


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("capo", range(13))
def test_a_capo_raises_the_shapes_by_its_half_steps_as_music21_counts_them(key: str, capo: int) -> None:
    shapes = shape_key(key, capo)
    raised = m21_note(shapes).transpose(capo)
    assert raised.pitchClass == m21_note(key).pitchClass
    assert pitch_class(sounding_key(shapes, capo)) == m21_note(key).pitchClass
    assert capo_for(shapes, key) == capo % 12


def test_the_plainest_keys_have_the_fewest_sharps_or_flats_that_music21_finds() -> None:
    for at, key in enumerate(PLAINEST_KEYS):
        assert pitch_class(key) == at
        same_sound = [other for other in KEYS if pitch_class(other) == at]
        fewest = min(abs(m21key.Key(m21_note(other).name).sharps) for other in same_sound)
        assert abs(m21key.Key(m21_note(key).name).sharps) == fewest


@pytest.mark.parametrize(
    ("chord", "key", "letters"),
    [
        (Chord(degree=4), "Bb", "Eb"),
        (Chord(degree=6, minor=True), "G", "Em"),
        (Chord(degree=7, shift=-1), "D", "C"),
        (Chord(degree=4, shift=1), "A", "D#"),
        (Chord(degree=2, minor=True), "F", "Gm"),
    ],
)
def test_usual_chords_read_as_players_write_them(chord: Chord, key: str, letters: str) -> None:
    """Common practice, no source."""
    assert chord_letters(chord, key) == letters


def test_sounding_a_with_the_capo_at_two_is_thought_of_as_g() -> None:
    assert (shape_key("A", 2), sounding_key("G", 2), capo_for("G", "A")) == ("G", "A", 2)


@pytest.mark.parametrize(
    ("text", "key"), [("bb", "Bb"), ("b", "B"), (" F♯ ", "F#"), ("E♭", "Eb"), ("a", "A")]
)
def test_keys_are_read_in_small_letters_and_with_either_sign(text: str, key: str) -> None:
    assert read_key(text) == key


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("G#", "write Ab"),
        ("Fb", "write E, "),
        ("Am", "write A; the scale stays as it is"),
        ("H", "such as G"),
        ("", "such as G"),
    ],
)
def test_what_is_no_key_is_answered_with_one(text: str, says: str) -> None:
    with pytest.raises(BadSettings, match="found") as caught:
        read_key(text)
    assert says in str(caught.value)
