"""Read and write a melody in strings and frets.

One bar a line (or several parted by ``|``), beats parted by commas, ``#`` begins a remark::

    3, 2 fret 1                     # string 3 open, then string 2 at fret 1, a beat each
    1 fret 2 then 1, hold           # a second note on the last slot of the first beat; the second beat holds
    it 3 then 3 fret 2 then 2, rest    # in six, one note for each slot; then silence accented 2, hold then
    slide 2 fret 3

A beat is one thing, or two joined by ``then`` (the second on the beat's last slot), or one for each slot of
the beat. A thing is a note, ``hold``, ``rest``, or ``brush N to M``: hold, with a brush over these strings. A
note is ``STRING``, ``STRING open`` or ``STRING fret F``; before it may stand ``accented``, and ``slide``,
``hammer-on`` or ``pull-off`` where the left hand alone shall sound it; after it ``slid from F``, or ``triplet
F F`` for two more notes in its beat. Parts, endings and pickups (in whole beats) have headings:
:mod:`trainer.music.form_text`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from trainer.music.form import Bars, Part
from trainer.music.form_text import form_lines, read_bars, read_form
from trainer.music.melody import HOLD, REST, MelodyBar, MelodySlot, Note, beat_words, slots_of
from trainer.music.source import Source, Word, nearest, shown
from trainer.music.strokes import (
    DEFAULT_BRUSH,
    HIGHEST_FRET,
    LONG_STRINGS,
    TRIPLET_MORE,
    Kind,
    is_triplet,
)

LEFT_HAND_WORDS = {kind.value: kind for kind in (Kind.SLIDE, Kind.HAMMER_ON, Kind.PULL_OFF)}


@dataclass(frozen=True, slots=True)
class PlacedSlot:
    """A slot of a melody and where its beat stands in the file."""

    slot: MelodySlot
    word: Word


@dataclass(frozen=True, slots=True)
class MelodyReader:
    """Reads bars of melody.

    Attributes:
        source: the file, for pointing at what is wrong.
        beats: of a bar.
        slots_per_beat: slots of a beat.
    """

    source: Source
    beats: int
    slots_per_beat: int

    def read(self, text: Word) -> tuple[Bars[PlacedSlot], tuple[Part, ...]]:
        """Return the bars of a melody as they are played, each slot with its word, and their form.

        Raises:
            BadNotation: the first thing that is wrong.
        """
        return read_form(self.source, read_bars(self.source, text, "melody"), self)

    def pickup(self, piece: Word) -> tuple[PlacedSlot, ...]:
        """Return the slots of a pickup: fewer beats than a bar has."""
        parts = piece.split(",")
        if len(parts) >= self.beats:
            self.source.fail_word(
                piece.trimmed(),
                f"this pickup has {len(parts)} beats in bars of {self.beats}",
                "write fewer, or make it a bar; hold in its first beats lets the last note ring",
            )
        return tuple(slot for part in parts for slot in self._beat(part))

    def bar(self, piece: Word, missing: int = 0) -> tuple[PlacedSlot, ...]:
        """Return one bar, without the slots at its end that a pickup takes."""
        beats = self.beats - missing // self.slots_per_beat
        pickup = f", the other {self.beats - beats} being the pickup that follows" if missing else ""
        parts = piece.split(",")
        if len(parts) > beats:
            self.source.fail_word(
                parts[beats].trimmed(),
                f"beat {beats + 1} stands in a bar of {beats}{pickup}",
                "begin a new line for the next bar",
            )
        slots = tuple(slot for part in parts for slot in self._beat(part))
        if len(parts) < beats:
            self.source.fail_word(
                piece.trimmed(),
                f"this bar has {len(parts)} of its {beats} beats{pickup}",
                "write a note, hold or rest for each beat",
            )
        return slots

    def _beat(self, part: Word) -> tuple[PlacedSlot, ...]:
        words = words_of(part)
        if not words:
            self.source.fail_word(part, "found nothing between two commas", "write a note, hold or rest")
        items: list[MelodySlot] = []
        word = part.trimmed()
        while True:
            item, words = self._item(words)
            items.append(item)
            if not words:
                break
            if words[0].text.lower() != "then":
                self.source.fail_word(
                    words[0], f"found {shown(words[0].text)} after a note", "put a comma before the next beat"
                )
            if len(words) < 2:
                self.source.fail_word(
                    words[0], "found then without a note", "write what follows, such as then 2 fret 1"
                )
            words = words[1:]
        slots = slots_of(tuple(items), self.slots_per_beat)
        if slots is None:
            self.source.fail_word(
                word,
                f"found {len(items)} notes in a beat of {self.slots_per_beat} slots",
                f"write one, two, or {self.slots_per_beat}; hold counts as one",
            )
        if any(item.note is not None and item.note.triplet for item in items) and len(items) > 1:
            self.source.fail_word(
                word, "a triplet takes a whole beat and nothing else has room in it", "give it its own beat"
            )
        return tuple(PlacedSlot(slot, word) for slot in slots)

    def _item(self, words: list[Word]) -> tuple[MelodySlot, list[Word]]:
        head = words[0].text.lower()
        if head == "hold":
            return HOLD, words[1:]
        if head == "rest":
            return REST, words[1:]
        if head == "brush":
            return self._brush(words)
        note, rest = self._note(words)
        return MelodySlot(note=note), rest

    def _brush(self, words: list[Word]) -> tuple[MelodySlot, list[Word]]:
        if len(words) < 2 or words[1].text.lower() == "then":
            return MelodySlot(brush=DEFAULT_BRUSH), words[1:]
        first = self._number(words[1], LONG_STRINGS[1:], "the first string of a brush")
        if len(words) < 4 or words[2].text.lower() != "to":
            self.source.fail_word(words[1], "a brush names one string", "write where it ends: brush 4 to 1")
        last = self._number(words[3], tuple(range(1, first)), "the last string of a brush")
        return MelodySlot(brush=tuple(range(first, last - 1, -1))), words[4:]

    def _note(self, words: list[Word]) -> tuple[Note, list[Word]]:
        """Return the note that some words begin with, and the words after it."""
        accented = words[0].text.lower() == "accented"
        if accented:
            words = self._after(words, "accented")
        by = LEFT_HAND_WORDS.get(words[0].text.lower())
        if by is not None:
            words = self._after(words, by.value)
        string, rest = self._string(words[0]), words[1:]
        fret, at = 0, words[0]
        if rest and rest[0].text.lower() == "open":
            rest = rest[1:]
        elif rest and rest[0].text.lower() == "fret":
            if len(rest) < 2:
                self.source.fail_word(rest[0], "found fret without a number", "write fret 2")
            fret, at, rest = self._fret(rest[1], "a fret"), rest[1], rest[2:]
        if by is not None and fret < by.least_fret:
            self.source.fail_word(
                at, f"a {by.value} to the open string sounds nothing", f"name its fret: {by.value} 3 fret 2"
            )
        slid_from, triplet = None, tuple[int, ...]()
        if rest and rest[0].text.lower() == "slid":
            slid_from, rest = self._slid_from(fret, by, rest)
        elif rest and rest[0].text.lower() == "triplet":
            triplet, rest = self._triplet(fret, by, rest)
        note = Note(string=string, fret=fret, accented=accented, slid_from=slid_from, triplet=triplet, by=by)
        return note, rest

    def _after(self, words: list[Word], said: str) -> list[Word]:
        if len(words) < 2:
            self.source.fail_word(words[0], f"found {said} without a note", f"write {said} 3 fret 2")
        return words[1:]

    def _slid_from(self, fret: int, by: Kind | None, rest: list[Word]) -> tuple[int, list[Word]]:
        if not fret or by is not None:
            self.source.fail_word(
                rest[0], "only a note at a fret, struck or dropped, can be slid into",
                "name its fret first: 3 fret 4 slid from 2",
            )  # fmt: skip
        if len(rest) < 3 or rest[1].text.lower() != "from":
            self.source.fail_word(rest[0], "found slid without where from", "write slid from 2")
        start = self._fret(rest[2], "the fret to slide from")
        if start in (0, fret):
            self.source.fail_word(
                rest[2], f"nothing slides from fret {start} to fret {fret}", "write another fret, from 1 on"
            )
        return start, rest[3:]

    def _triplet(self, fret: int, by: Kind | None, rest: list[Word]) -> tuple[tuple[int, ...], list[Word]]:
        more = tuple(self._fret(word, "a fret of a triplet") for word in rest[1 : 1 + TRIPLET_MORE])
        if by is not None or not is_triplet(fret, more, Kind.STRIKE):
            self.source.fail_word(
                rest[0], "these notes are no triplet",
                "write two more frets, each another than the one before: 3 triplet 2 0",
            )  # fmt: skip
        return more, rest[1 + TRIPLET_MORE :]

    def _string(self, head: Word) -> int:
        if not head.text.isascii() or not head.text.isdecimal() or len(head.text) > 2:
            near = nearest(head.text, ("hold", "rest", "brush", "accented", *LEFT_HAND_WORDS))
            self.source.fail_word(
                head,
                f"found {shown(head.text)} where a note should be",
                f"did you mean {near}" if near else "write a string from 1 to 4, such as 2 fret 1, or hold",
            )
        return self._number(head, LONG_STRINGS, "the string of the melody")

    def _fret(self, word: Word, what: str) -> int:
        return self._number(word, tuple(range(HIGHEST_FRET + 1)), what)

    def _number(self, word: Word, allowed: tuple[int, ...], what: str) -> int:
        digits = word.text.isascii() and word.text.isdecimal() and len(word.text) <= 2
        if digits and int(word.text) in allowed:
            return int(word.text)
        self.source.fail_word(
            word,
            f"found {shown(word.text)} for {what}",
            f"write a number from {allowed[0]} to {allowed[-1]}",
        )


def melody_lines(
    bars: tuple[MelodyBar, ...], parts: tuple[Part, ...], slots_per_beat: int
) -> tuple[str, ...]:
    """Return a melody as it is written; :class:`MelodyReader` reads the same melody back."""
    return form_lines(parts, bars, lambda slots: bar_words(slots, slots_per_beat))


def bar_words(slots: MelodyBar, slots_per_beat: int) -> str:
    """Return the beats of a bar, or of a part of one, as they are written."""
    beats = (slots[at : at + slots_per_beat] for at in range(0, len(slots), slots_per_beat))
    return ", ".join(beat_words(beat) for beat in beats)


def words_of(piece: Word) -> list[Word]:
    """Return the words of a piece of text, each with its place."""
    return [Word(m.group(), piece.line, piece.column + m.start()) for m in re.finditer(r"\S+", piece.text)]
