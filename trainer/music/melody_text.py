"""Read a melody written in strings and frets.

One bar a line (or several parted by ``|``), beats parted by commas, ``#`` begins a remark::

    3, 2 fret 1                     # string 3 open, then string 2 at fret 1, a beat each
    1 fret 2 then 1, hold           # a passing note at the end of the first beat; the second holds it
    2 open, hold

A beat is ``STRING``, ``STRING open``, ``STRING fret F`` or ``hold``; after it may stand ``then`` and a note.
"""

from __future__ import annotations

import re

from trainer.music.breaks import MelodyBeat, Note
from trainer.music.pattern import MAX_BARS
from trainer.music.source import Source, Word, nearest, shown
from trainer.music.strokes import HIGHEST_FRET, LONG_STRINGS


def read_melody(source: Source, text: Word, bar_beats: int) -> tuple[tuple[MelodyBeat, ...], ...]:
    """Return the beats of a melody by bar.

    Args:
        source: the file, for pointing at what is wrong.
        text: one or more lines that stand at a place in it.
        bar_beats: beats of a bar.

    Raises:
        BadNotation: the first thing that is wrong.
    """
    bars = []
    for piece in bar_pieces(text):
        if not piece.text.strip():
            source.fail_word(piece, "found an empty bar", "write its beats or remove one |")
        bars.append(_bar(source, piece, bar_beats))
        if len(bars) > MAX_BARS:
            source.fail_word(
                piece, f"this is bar {len(bars)} and there are at most {MAX_BARS}", "split the tune"
            )
    if not bars:
        source.fail_word(text, "there is no bar", "write at least one bar of melody")
    return tuple(bars)


def bar_pieces(text: Word) -> list[Word]:
    """Return the bars of a text, each with its place; a bar stroke at either end of a line parts nothing."""
    pieces = []
    for offset, raw in enumerate(text.text.split("\n")):
        line = Word(raw.split("#", 1)[0], text.line + offset, text.column if offset == 0 else 1)
        if not line.text.strip():
            continue
        parts = line.split("|")
        ends = (0, len(parts) - 1)
        pieces += [part for at, part in enumerate(parts) if part.text.strip() or at not in ends]
    return pieces


def words_of(piece: Word) -> list[Word]:
    """Return the words of a piece of text, each with its place."""
    return [Word(m.group(), piece.line, piece.column + m.start()) for m in re.finditer(r"\S+", piece.text)]


def _bar(source: Source, piece: Word, bar_beats: int) -> tuple[MelodyBeat, ...]:
    parts = piece.split(",")
    if len(parts) > bar_beats:
        source.fail_word(
            parts[bar_beats].trimmed(),
            f"beat {bar_beats + 1} stands in a bar of {bar_beats}",
            "begin a new line for the next bar",
        )
    beats = tuple(_beat(source, part) for part in parts)
    if len(parts) < bar_beats:
        source.fail_word(
            piece.trimmed(),
            f"this bar has {len(parts)} of its {bar_beats} beats",
            "write a note or hold for each beat",
        )
    return beats


def _beat(source: Source, part: Word) -> MelodyBeat:
    words = words_of(part)
    if not words:
        source.fail_word(part, "found nothing between two commas", "write a note, or hold")
    if words[0].text.lower() == "hold":
        note, rest = None, words[1:]
    else:
        note, rest = _note(source, words)
    then = None
    if rest and rest[0].text.lower() == "then":
        if len(rest) < 2:
            source.fail_word(
                rest[0], "found then without a note", "write the passing note, such as then 2 fret 1"
            )
        then, rest = _note(source, rest[1:])
    if rest:
        source.fail_word(
            rest[0], f"found {shown(rest[0].text)} after a note", "put a comma before the next beat"
        )
    return MelodyBeat(note=note, then=then)


def _note(source: Source, words: list[Word]) -> tuple[Note, list[Word]]:
    """Return the note that some words begin with, and the words after it."""
    head, *rest = words
    if not head.text.isascii() or not head.text.isdecimal() or len(head.text) > 2:
        near = nearest(head.text, ("hold",))
        source.fail_word(
            head,
            f"found {shown(head.text)} where a note should be",
            f"did you mean {near}" if near else "write a string from 1 to 4, such as 2 fret 1, or hold",
        )
    if int(head.text) not in LONG_STRINGS:
        source.fail_word(
            head, f"found {shown(head.text)} for the string of the melody", "write a number from 1 to 4"
        )
    if rest and rest[0].text.lower() == "open":
        return Note(string=int(head.text)), rest[1:]
    if rest and rest[0].text.lower() == "fret":
        if len(rest) < 2:
            source.fail_word(rest[0], "found fret without a number", "write fret 2")
        return Note(string=int(head.text), fret=_fret(source, rest[1])), rest[2:]
    return Note(string=int(head.text)), rest


def _fret(source: Source, word: Word) -> int:
    digits = word.text.isascii() and word.text.isdecimal() and len(word.text) <= 2
    if digits and int(word.text) <= HIGHEST_FRET:
        return int(word.text)
    source.fail_word(word, f"found {shown(word.text)} for a fret", f"write a number from 0 to {HIGHEST_FRET}")
