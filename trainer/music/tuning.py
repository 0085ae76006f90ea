"""Give each string its pitch.

MIDI note numbers, A4 = 69 = 440 Hz, equal temperament.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.strokes import Stroke

OPEN_G_NOTES = (62, 59, 55, 50, 67)  # strings 1 to 5: D4 B3 G3 D3 g4; common practice, no source


def note_to_hz(note: float) -> float:
    """Return the frequency of a MIDI note: 440 * 2**((note - 69) / 12)."""
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
        """Return the MIDI note of a string (1 to 5) stopped at a fret above the capo."""
        return self.notes[string - 1] + self.capo + fret

    def stroke_notes(self, stroke: Stroke) -> tuple[int, ...]:
        """Return the notes that a stroke sounds, in the order of its strings; empty for silence."""
        return tuple(self.note(string, stroke.fret or 0) for string in stroke.strings)


OPEN_G = Tuning()
