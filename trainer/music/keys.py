"""Turn chords by number into letters and pitches for a key, and reckon with the capo.

A key is the note called 1, as it sounds: ``G``, ``Bb``, ``F#``, and the scale on it: major, unless ``A
minor`` or another is said. Its letters are those of the degrees, so that the 4 of Bb is Eb and never D#.
Pitch classes count half steps from C, 0 to 11.
"""

from __future__ import annotations

from trainer.errors import BadSettings
from trainer.music.chart import MAJOR_SCALE, NO_CHORD_WORDS, TONE_MARKS, Chord, Degree, Mode
from trainer.music.source import nearest, shown

LETTERS = "CDEFGAB"
LETTER_CLASSES = dict(zip(LETTERS, MAJOR_SCALE, strict=True))
# The major keys with at most seven sharps or flats: those that are written.
KEYS = ("C", "G", "D", "A", "E", "B", "F#", "C#", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb")
# For each pitch class the key with the fewest sharps or flats; F# for the tie with Gb.
PLAINEST_KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
MOST_SIGNS = 7  # sharps or flats of a signature
SHARPS_IN_ORDER = "FCGDAEB"  # the circle of fifths
_MODE_WORDS = {mode.value: mode for mode in Mode} | {"min": Mode.MINOR, "maj": Mode.MAJOR}
TUNING_WORDS = ("open", "double", "drop", "sawmill", "modal", "mountain", "standard")  # names begin with one
_SIGNS = str.maketrans({"♭": "b", "♯": "#"})


def read_key(text: str) -> str:
    """Return a key as it is written here, such as ``Bb`` for ``b♭``.

    Raises:
        BadSettings: not a note, or one on which no major scale is written.
    """
    word = text.strip().translate(_SIGNS)
    note = word[:1].upper() + word[1:]
    if note in KEYS:
        return note
    if note[:1] in LETTERS and note[1:] in ("#", "b"):
        plainest = PLAINEST_KEYS[pitch_class(note)]
        raise BadSettings(
            f'found the key "{text}", which is not written', f"write {plainest}, the same sound"
        )
    if note.endswith("m") and note[:-1] in KEYS:
        raise BadSettings(
            f'found "{text}" where the note called 1 is wanted',
            f"write {note[:-1]}; the scale stays as it is",
        )
    _refuse_tuning(text)
    raise BadSettings(f"found {shown(text)} for the key", "write a note such as G, A, Bb or F#")


def _refuse_tuning(text: str) -> None:
    """Say of the name of a tuning, such as double D, that it is none of a key."""
    first, *rest = text.lower().split() or [""]
    if first in TUNING_WORDS:
        note = f"such as {rest[-1].upper()}" if rest and rest[-1].upper() in LETTERS else "such as G"
        raise BadSettings(
            f"found the tuning {shown(text)} for the key", f"write the note called 1 as it sounds, {note}"
        )


def read_key_and_mode(text: str) -> tuple[str, Mode]:
    """Return a key with its scale: ``A``, ``A minor`` (also ``Am``), ``D mixolydian``, ``G dorian``.

    Raises:
        BadSettings: not a note, no scale known here, or a key with more than seven sharps or flats.
    """
    _refuse_tuning(text)
    note, *rest = text.split() or [""]
    word = " ".join(rest).lower()
    if not rest and note[1:].endswith("m"):
        note, word = note[:-1], Mode.MINOR.value
    mode = _MODE_WORDS.get(word or Mode.MAJOR.value)
    if mode is None:
        near = nearest(word, tuple(_MODE_WORDS))
        raise BadSettings(
            f"found {shown(word)} for the scale of the key",
            f"did you mean {near}" if near else f"write one of {', '.join(mode.value for mode in Mode)}",
        )
    tonic = note[:1].upper() + note[1:].translate(_SIGNS)
    if tonic[:1] in LETTERS and tonic[1:] in ("", "#", "b") and tonic:
        if abs(signature(tonic, mode)) <= MOST_SIGNS:
            return tonic, mode
        raise BadSettings(
            f'found the key "{text}", which is not written',
            f"write {written_key(tonic, mode)} {mode.value}, the same sound",
        )
    return read_key(note), mode


def signature(key: str, mode: Mode = Mode.MAJOR) -> int:
    """Return the sharps of a key's signature; flats are negative."""
    sharps = SHARPS_IN_ORDER.index(key[0]) - 1
    return sharps + len(SHARPS_IN_ORDER) * (key.count("#") - key[1:].count("b")) + mode.fifths


def midi_key(key: str, mode: Mode) -> str:
    """Return a key as a Standard MIDI File names it: ``Am`` for A minor, and the major key with the same
    signature for the other scales, which such a file cannot name.
    """
    written = written_key(key, mode)
    if mode in (Mode.MAJOR, Mode.MINOR):
        return written + ("m" if mode is Mode.MINOR else "")
    return next(major for major in KEYS if signature(major) == signature(written, mode))


def written_key(key: str, mode: Mode) -> str:
    """Return a key, or where its signature would have more than seven signs, the one that sounds the same."""
    if abs(signature(key, mode)) <= MOST_SIGNS:
        return key
    same = (letter + sign for letter in LETTERS for sign in ("", "#", "b"))
    sounding = (note for note in same if pitch_class(note) == pitch_class(key))
    return min(sounding, key=lambda note: (abs(signature(note, mode)), note))


def pitch_class(note: str) -> int:
    """Return the half steps from C up to a note such as ``Bb`` or ``F##``, 0 to 11.

    >>> pitch_class("C"), pitch_class("F#"), pitch_class("Bb")
    (0, 6, 10)
    """
    return (LETTER_CLASSES[note[0]] + note.count("#") - note[1:].count("b")) % 12


def root_letters(note: Chord | Degree, key: str) -> str:
    """Return a chord's root, or another note by number, spelled for a key: its letter, with its sharps or
    flats.

    A sharp 4 of C# is F## and a flat 6 of Gb is Ebb: the spelling follows the number.
    """
    letter = LETTERS[(LETTERS.index(key[0]) + note.degree - 1) % len(LETTERS)]
    half_steps = MAJOR_SCALE[note.degree - 1] + note.shift
    wanted = (pitch_class(key) + half_steps) % 12
    # The nearest way round, from five half steps below to six above.
    away = (wanted - LETTER_CLASSES[letter] + 5) % 12 - 5
    return letter + ("#" * away if away > 0 else "b" * -away)


def chord_letters(chord: Chord, key: str) -> str:
    """Return a chord in letters for a key: ``6-`` in G is ``Em``, ``5^7/7`` in C is ``G7/B``.

    >>> [chord_letters(Chord(degree=d, minor=d == 6), "G") for d in (1, 4, 5, 6)]
    ['G', 'C', 'D', 'Em']
    """
    if chord.silent:
        return NO_CHORD_WORDS
    bass = "" if chord.bass is None else f"/{root_letters(chord.bass, key)}"
    mark = TONE_MARKS[chord.tones].removeprefix("^")
    return f"{root_letters(chord, key)}{'m' if chord.minor else ''}{mark}{bass}"


def chord_classes(chord: Chord, key: str) -> tuple[int, ...]:
    """Return the pitch classes of a chord's root, third, fifth and, where it has one, seventh in a key.

    Those of no chord are none. The bass of a slash chord is not among them unless the chord has it.

    >>> chord_classes(Chord(degree=1), "G")
    (7, 11, 2)
    """
    root = pitch_class(key) + chord.root
    return () if chord.silent else tuple((root + step) % 12 for step in chord.intervals)


def shape_key(key: str, capo: int) -> str:
    """Return the key whose shapes the player thinks of: sounding A with the capo at 2 is G.

    The key is kept as it is written where the capo changes nothing, and else the plainest is taken.

    >>> shape_key("A", 2)
    'G'
    """
    return key if capo % 12 == 0 else PLAINEST_KEYS[(pitch_class(key) - capo) % 12]


def sounding_key(shapes: str, capo: int) -> str:
    """Return the key that sounds when shapes of a key are played above a capo: G at 2 is A."""
    return shape_key(shapes, -capo)


def capo_for(shapes: str, key: str) -> int:
    """Return the fret, 0 to 11, at which the capo makes shapes of one key sound in another.

    >>> capo_for("G", "A"), capo_for("C", "D")
    (2, 2)
    """
    return (pitch_class(key) - pitch_class(shapes)) % 12
