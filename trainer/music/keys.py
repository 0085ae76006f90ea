"""Turn chords by number into letters and pitches for a key, and reckon with the capo.

A key is the note called 1, as it sounds: ``G``, ``Bb``, ``F#``. Its letters are those of the major scale on
it, so that the 4 of Bb is Eb and never D#. Pitch classes count half steps from C, 0 to 11.
"""

from __future__ import annotations

from trainer.errors import BadSettings
from trainer.music.chart import MAJOR_SCALE, Chord
from trainer.music.source import shown

LETTERS = "CDEFGAB"
LETTER_CLASSES = dict(zip(LETTERS, MAJOR_SCALE, strict=True))
# The major keys with at most seven sharps or flats: those that are written.
KEYS = ("C", "G", "D", "A", "E", "B", "F#", "C#", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb")
# For each pitch class the key with the fewest sharps or flats; F# for the tie with Gb.
PLAINEST_KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
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
            f'found "{text}" for the key, which is the note called 1',
            f"write {note[:-1]} and its chord as 1-",
        )
    raise BadSettings(f"found {shown(text)} for the key", "write a note such as G, A, Bb or F#")


def pitch_class(note: str) -> int:
    """Return the half steps from C up to a note such as ``Bb`` or ``F##``, 0 to 11.

    >>> pitch_class("C"), pitch_class("F#"), pitch_class("Bb")
    (0, 6, 10)
    """
    return (LETTER_CLASSES[note[0]] + note.count("#") - note[1:].count("b")) % 12


def root_letters(chord: Chord, key: str) -> str:
    """Return the root of a chord spelled for a key: the letter of its degree, with its sharps or flats.

    A sharp 4 of C# is F## and a flat 6 of Gb is Ebb: the spelling follows the number.
    """
    letter = LETTERS[(LETTERS.index(key[0]) + chord.degree - 1) % len(LETTERS)]
    wanted = (pitch_class(key) + chord.root) % 12
    # The nearest way round, from five half steps below to six above.
    away = (wanted - LETTER_CLASSES[letter] + 5) % 12 - 5
    return letter + ("#" * away if away > 0 else "b" * -away)


def chord_letters(chord: Chord, key: str) -> str:
    """Return a chord in letters for a key: ``6-`` in G is ``Em``.

    >>> [chord_letters(Chord(degree=d, minor=d == 6), "G") for d in (1, 4, 5, 6)]
    ['G', 'C', 'D', 'Em']
    """
    return root_letters(chord, key) + ("m" if chord.minor else "")


def chord_classes(chord: Chord, key: str) -> tuple[int, int, int]:
    """Return the pitch classes of a chord's root, third and fifth in a key.

    >>> chord_classes(Chord(degree=1), "G")
    (7, 11, 2)
    """
    root = pitch_class(key) + chord.root
    first, third, fifth = (root + step for step in chord.intervals)
    return first % 12, third % 12, fifth % 12


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
