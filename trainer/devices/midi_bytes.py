"""Pick the note-ons out of MIDI bytes, whatever stands between them.

MIDI 1.0: a note-on with velocity 0 is a note-off; running status lets data bytes follow without a new
status byte; real-time bytes (F8 to FF) may stand anywhere and change nothing; system exclusive and system
common messages end running status.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

NOTE_ON = 0x90
_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
_SYSTEM_DATA_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1}
_SYSEX, _SYSEX_END, _FIRST_REAL_TIME = 0xF0, 0xF7, 0xF8


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteOn:
    """A note that began: channel and note from 0, velocity 1 to 127."""

    channel: int
    note: int
    velocity: int


class MidiBytes:
    """Decodes one stream of bytes; keeps what a stream keeps between messages."""

    def __init__(self) -> None:
        self._status: int | None = None
        self._wanted = 0
        self._data: list[int] = []

    def note_ons(self, data: Iterable[int]) -> tuple[NoteOn, ...]:
        """Take in bytes, whole messages or pieces, and return the notes that began in them."""
        found = []
        for byte in data:
            if byte >= _FIRST_REAL_TIME:
                continue
            if byte >= 0x80:
                self._new_status(byte)
            elif self._status is not None:
                self._data.append(byte)
                if len(self._data) == self._wanted:
                    found += self._message()
        return tuple(found)

    def _new_status(self, byte: int) -> None:
        self._data = []
        if byte < _SYSEX:
            self._status, self._wanted = byte, _DATA_BYTES[byte & 0xF0]
        elif byte in _SYSTEM_DATA_BYTES:
            self._status, self._wanted = byte, _SYSTEM_DATA_BYTES[byte]
        else:
            # Within system exclusive all data is skipped: without a status nothing collects it.
            self._status = None

    def _message(self) -> list[NoteOn]:
        assert self._status is not None
        status, data, self._data = self._status, self._data, []
        if status >= _SYSEX:
            self._status = None
            return []
        if status & 0xF0 == NOTE_ON and data[1] > 0:
            return [NoteOn(channel=status & 0x0F, note=data[0], velocity=data[1])]
        return []
