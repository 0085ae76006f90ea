"""Give each string its pitch.

MIDI note numbers, A4 = 69 = 440 Hz, equal temperament. Tunings are written from string 5 to string 1 in
scientific pitch notation, where C4 is middle C = 60: ``g4 D3 G3 B3 D4``. The small letter for the short
string is a custom; capitals do not matter.

The five letters that players write, ``gDGBD``, mean the same: each letter is the pitch nearest to its
string's in open G. The named tunings are common practice, no source. Open D has two usual pitches for the
short string; here it is f#4, which slackens it from g by a half step, and not a4, which would tighten it by
two. The other is written as its letters: ``aDF#AD``. Open A, double D and the sawmill of A are open G, double
C and sawmill two frets up, by tuning instead of by capo.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from trainer.errors import BadSettings
from trainer.music.keys import LETTER_CLASSES, PLAINEST_KEYS
from trainer.music.source import nearest, shown
from trainer.music.strokes import DRONE, DRONE_FRET, Stroke

OPEN_G_NOTES = (62, 59, 55, 50, 67)  # strings 1 to 5: D4 B3 G3 D3 g4
NAMED_NOTES: dict[str, tuple[int, int, int, int, int]] = {
    "open G": OPEN_G_NOTES,
    "double C": (62, 60, 55, 48, 67),  # g4 C3 G3 C4 D4
    "sawmill": (62, 60, 55, 50, 67),  # g4 D3 G3 C4 D4
    "open D": (62, 57, 54, 50, 66),  # f#4 D3 F#3 A3 D4
    "drop C": (62, 59, 55, 48, 67),  # g4 C3 G3 B3 D4
    "open C": (64, 60, 55, 48, 67),  # g4 C3 G3 C4 E4
    "open A": (64, 61, 57, 52, 69),  # a4 E3 A3 C#4 E4
    "double D": (64, 62, 57, 50, 69),  # a4 D3 A3 D4 E4
    "sawmill A": (64, 62, 57, 52, 69),  # a4 E3 A3 D4 E4
}
# Tunings are written with C sharp, whatever the keys are called: that of the open A chord.
_PITCH_LETTERS = tuple("C#" if key == "Db" else key for key in PLAINEST_KEYS)
_ALSO_CALLED = {"modal": "sawmill", "mountain minor": "sawmill", "standard": "open G"}
STRINGS = 5
LOWEST_NOTE = 36  # C2: lower than any tuning of a five-string neck, and still a pitch to hear
HIGHEST_NOTE = 84  # C6
HIGHEST_CAPO = 12
_LETTERS = re.compile(r"[A-Ga-g][#♯b♭]?")
_PITCH = re.compile(r"([A-Ga-g])([#♯b♭]?)([0-9])")


def note_to_hz(note: float) -> float:
    """Return the frequency of a MIDI note: 440 * 2**((note - 69) / 12).

    >>> note_to_hz(69), round(note_to_hz(62), 2)
    (440.0, 293.66)
    """
    return float(440.0 * 2.0 ** ((note - 69.0) / 12.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tuning:
    """Five open strings and a capo.

    Attributes:
        notes: MIDI notes of the open strings 1 to 5.
        capo: frets by which all strings are raised (the drone by spike or retuning).
    """

    notes: tuple[int, int, int, int, int] = OPEN_G_NOTES
    capo: int = 0

    def note(self, string: int, fret: int = 0) -> int:
        """Return the MIDI note of a string (1 to 5) stopped at a fret above the capo.

        Frets are counted along the neck: the short string begins at the fifth, so at the seventh it sounds
        two half steps higher than open.
        """
        along = fret if string != DRONE else max(0, fret - DRONE_FRET)
        return self.notes[string - 1] + self.capo + along

    def stroke_notes(self, stroke: Stroke) -> tuple[int, ...]:
        """Return the notes that a stroke sounds, in the order of its strings; empty for silence."""
        return tuple(
            self.note(string, fret) for string, fret in zip(stroke.strings, stroke.all_frets, strict=True)
        )

    @property
    def words(self) -> str:
        """The tuning as it is written: its name, or its five pitches from string 5 to 1; without the capo."""
        names = {notes: name for name, notes in NAMED_NOTES.items()}
        return names.get(self.notes) or self.pitches

    @property
    def pitches(self) -> str:
        """The open strings from 5 to 1 without the capo, such as ``g4 D3 G3 B3 D4``."""
        *long, short = self.notes
        name = pitch_name(short)
        return " ".join([name[0].lower() + name[1:], *(pitch_name(note) for note in reversed(long))])


OPEN_G = Tuning()


def pitch_name(note: int) -> str:
    """Return a MIDI note in scientific pitch notation: 60 is ``C4``, 66 is ``F#4``.

    >>> [pitch_name(note) for note in (67, 50, 61)]
    ['G4', 'D3', 'C#4']
    """
    octave, pitch_class = divmod(note, 12)
    return f"{_PITCH_LETTERS[pitch_class]}{octave - 1}"


def read_pitch(text: str) -> int:
    """Return the MIDI note of a pitch such as ``g4``: 12 * (octave + 1) and the half steps of its letter.

    Raises:
        BadSettings: not a pitch, or outside C2 to C6.

    >>> read_pitch("g4"), read_pitch("D3")
    (67, 50)
    """
    found = _PITCH.fullmatch(text)
    if not found:
        raise BadSettings(
            f"found {shown(text)} for a pitch",
            "write a letter and an octave, such as g4 or F#3; C4 is middle C",
        )
    letter, sign, octave = found.groups()
    shift = {"": 0, "#": 1, "♯": 1}.get(sign, -1)
    note = 12 * (int(octave) + 1) + LETTER_CLASSES[letter.upper()] + shift
    if not LOWEST_NOTE <= note <= HIGHEST_NOTE:
        raise BadSettings(
            f'the pitch "{text}" is outside {pitch_name(LOWEST_NOTE)} to {pitch_name(HIGHEST_NOTE)}',
            "check its octave; C4 is middle C",
        )
    return note


def read_tuning(text: str, *, capo: int = 0) -> Tuning:
    """Return a tuning from its name or from five pitches, string 5 first.

    Args:
        text: a name such as ``open G`` or ``double C``, or ``gDGBD``, or ``g4 D3 G3 B3 D4``.
        capo: frets, 0 to 12.

    Raises:
        BadSettings: no such name, not five pitches, or one of them is none.
    """
    named = {name.lower(): name for name in NAMED_NOTES}
    wanted = " ".join(text.lower().split())
    wanted = _ALSO_CALLED.get(wanted, wanted).lower()
    if wanted in named:
        return Tuning(notes=NAMED_NOTES[named[wanted]], capo=capo)
    letters = _letters(text)
    if letters is not None:
        return Tuning(notes=letters, capo=capo)
    words = text.split()
    # A word with a digit can only be a pitch; without any, a name was meant.
    if not any(char.isdecimal() for char in text):
        near = nearest(wanted, tuple(named))
        every = f"write {', '.join(NAMED_NOTES)}, or the letters from string 5 to 1, such as gDGBD"
        raise BadSettings(
            f"found no tuning called {shown(text)}", f"did you mean {named[near]}" if near else every
        )
    if len(words) != STRINGS:
        raise BadSettings(
            f"found {len(words)} pitches for {STRINGS} strings", "write them from string 5 to string 1"
        )
    fifth, fourth, third, second, first = (read_pitch(word) for word in words)
    return Tuning(notes=(first, second, third, fourth, fifth), capo=capo)


def _letters(text: str) -> tuple[int, int, int, int, int] | None:
    """Return the notes of five letters from string 5 to 1, nearest to open G's; None for other texts."""
    joined = "".join(text.split())
    found = _LETTERS.findall(joined)
    if len(joined) == STRINGS and set(joined) <= set("ABCDEFGabcdefg"):
        found = list(joined)  # a small b among five letters is a string and no flat
    if len(found) != STRINGS or "".join(found) != joined:
        return None
    usual = (OPEN_G_NOTES[4], *reversed(OPEN_G_NOTES[:4]))
    fifth, fourth, third, second, first = (
        note + (_class_of(letter) - note + 5) % 12 - 5 for note, letter in zip(usual, found, strict=True)
    )
    return first, second, third, fourth, fifth


def _class_of(letter: str) -> int:
    return LETTER_CLASSES[letter[0].upper()] + {"": 0, "#": 1, "♯": 1}.get(letter[1:], -1)
