"""Letters, pitch classes and the capo. Outside check: music21, a general music library."""

import pytest
from music21 import chord as m21chord
from music21 import harmony as m21harmony
from music21 import interval as m21interval
from music21 import key as m21key
from music21 import pitch as m21pitch
from music21 import scale as m21scale

from trainer.errors import BadSettings
from trainer.music.chart import Chart, Chord, Mode
from trainer.music.chords_text import read_chord
from trainer.music.keys import (
    KEYS,
    PLAINEST_KEYS,
    capo_for,
    chord_classes,
    chord_letters,
    pitch_class,
    read_key,
    read_key_and_mode,
    root_letters,
    shape_key,
    signature,
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


@pytest.mark.parametrize("mode", Mode)
@pytest.mark.parametrize("tonic", [*KEYS, "G#", "D#", "A#"])
def test_signatures_and_scales_are_those_of_music21(tonic: str, mode: Mode) -> None:
    outside = m21key.Key(tonic[0] + tonic[1:].replace("b", "-"), mode.value)
    assert signature(tonic, mode) == outside.sharps
    scale = [(pitch_class(tonic) + step) % 12 for step in mode.scale]
    kinds = {
        Mode.MAJOR: m21scale.MajorScale,
        Mode.MINOR: m21scale.MinorScale,
        Mode.DORIAN: m21scale.DorianScale,
        Mode.MIXOLYDIAN: m21scale.MixolydianScale,
    }
    pitches = kinds[mode](outside.tonic).getPitches()[:7]
    assert scale == [pitch.pitchClass for pitch in pitches]


@pytest.mark.parametrize(
    ("text", "key", "mode"),
    [
        ("A minor", "A", Mode.MINOR),
        ("Am", "A", Mode.MINOR),
        ("f#m", "F#", Mode.MINOR),
        ("g# minor", "G#", Mode.MINOR),
        ("G", "G", Mode.MAJOR),
        ("D mixolydian", "D", Mode.MIXOLYDIAN),
        ("bb Dorian", "Bb", Mode.DORIAN),
    ],
)
def test_a_key_may_name_its_scale(text: str, key: str, mode: Mode) -> None:
    assert read_key_and_mode(text) == (key, mode)
    assert read_key_and_mode(Chart(key=key, spans=(), mode=mode).key_words) == (key, mode)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("G# major", "write Ab major, the same sound"),
        ("Db minor", "write C# minor, the same sound"),
        ("A minr", "did you mean minor"),
        ("A blues", "write one of major, minor, dorian, mixolydian"),
        ("H minor", "write a note such as G"),
        ("", "write a note such as G"),
    ],
)
def test_what_is_no_key_with_a_scale_is_answered(text: str, says: str) -> None:
    with pytest.raises(BadSettings, match=says):
        read_key_and_mode(text)


@pytest.mark.parametrize(
    ("words", "key", "letters"),
    [
        ("5^7", "G", "D7"),
        ("2-7", "C", "Dm7"),
        ("1maj7", "F", "Fmaj7"),
        ("7dim", "G", "F#dim"),
        ("4sus4", "D", "Gsus4"),
        ("1/3", "G", "G/B"),
        ("5^7/7", "C", "G7/B"),
        ("b7/b3", "A", "G/C"),
        ("no chord", "A", "no chord"),
    ],
)
def test_letters_of_chords_with_more_than_three_tones(words: str, key: str, letters: str) -> None:
    chord = read_chord(words)
    assert chord.words == words
    assert chord_letters(chord, key) == letters
    if not chord.silent:
        outside = m21harmony.ChordSymbol(letters.split("/")[0].replace("b", "-"))
        assert set(chord_classes(chord, key)) == {pitch.pitchClass for pitch in outside.pitches}
