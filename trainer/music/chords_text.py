"""Read and write chords by number, with the beats of each.

::

    1 for 4, 4 for 2, 1 for 2      # four beats of 1, two of 4, two of 1
    1, 5 | 6-, b7 for 1, #4 for 1  # without "for" a chord lasts one bar

A chord is a number from 1 to 7; ``-`` after it makes it minor, ``b`` or ``#`` before it moves it down or up
by a half step. Commas, ``|`` and line ends part the chords. ``#`` begins a remark unless a number follows at
once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from trainer.errors import BadSettings
from trainer.music.chart import MINOR_MARK, SHIFT_MARKS, Chord, ChordSpan
from trainer.music.pattern import MAX_BARS, Meter
from trainer.music.source import Source, Word, shown

MOST_BEATS = MAX_BARS * max(meter.beats for meter in Meter)
SPANS_A_LINE = 6  # when written: as many as are read at a glance
_CHORD = re.compile(r"([b#♭♯]?)([1-7])(-?)")
_REMARK = re.compile(r"#(?!\d).*", re.DOTALL)
_SHIFTS = {mark: shift for shift, mark in SHIFT_MARKS.items()} | {"♭": -1, "♯": 1}
_ROMAN = ("i", "ii", "iii", "iv", "v", "vi", "vii")
_LETTER_CHORD = re.compile(r"([A-G])([#b]?)(m|min|-)?")


def read_chord(text: str) -> Chord:
    """Return a chord from its number, such as ``4``, ``6-`` or ``b7``.

    Raises:
        BadSettings: not a chord by number.
    """
    found = _CHORD.fullmatch(text)
    if found:
        shift, degree, minor = found.groups()
        return Chord(degree=int(degree), shift=_SHIFTS[shift], minor=bool(minor))
    raise BadSettings(f"found {shown(text)} where a chord should be", _hint(text))


def chords_words(spans: Iterable[ChordSpan]) -> tuple[str, ...]:
    """Return spans as lines of text; :func:`read_chords` gives the same spans back."""
    words = [f"{span.chord.words} for {span.beats}" for span in spans]
    return tuple(", ".join(words[at : at + SPANS_A_LINE]) for at in range(0, len(words), SPANS_A_LINE))


def read_chords(source: Source, text: Word, bar_beats: int) -> tuple[ChordSpan, ...]:
    """Return the chords of a text that stands at a place in a file.

    Args:
        source: the file, for pointing at what is wrong.
        text: one or more lines.
        bar_beats: beats of a bar, the length of a chord that names none.

    Raises:
        BadNotation: the first thing that is wrong, also a length that is not a whole number of bars.
    """
    spans: list[ChordSpan] = []
    for piece in _pieces(source, text):
        spans.append(_span(source, piece, bar_beats))
        if sum(span.beats for span in spans) > MAX_BARS * bar_beats:
            source.fail_word(
                piece, f"this chord passes {MAX_BARS} bars, the most there can be", "split the tune"
            )
    if not spans:
        source.fail_word(text, "there is no chord", "write at least one, such as 1 for 4")
    over = sum(span.beats for span in spans) % bar_beats
    if over:
        source.fail_word(
            piece,
            f"the chords end {over} beat{'s' if over > 1 else ''} into a bar of {bar_beats}",
            "give the last chord the beats that are missing",
        )
    return tuple(spans)


def _pieces(source: Source, text: Word) -> list[Word]:
    """Return the chords of all lines, each with its place."""
    pieces = []
    for offset, raw in enumerate(text.text.split("\n")):
        line = Word(_REMARK.sub("", raw), text.line + offset, text.column if offset == 0 else 1)
        if not line.text.strip():
            continue
        # A comma may end a line and a bar stroke may stand at either end: nothing is missing there.
        parts = [part for bar in line.split("|") for part in _without_last_empty(bar.split(","))]
        for part in parts:
            if not part.text.strip():
                source.fail_word(part, "found nothing between two commas", "write a chord, such as 4 for 2")
            pieces.append(part.trimmed())
    return pieces


def _without_last_empty(parts: list[Word]) -> list[Word]:
    return parts if parts[-1].text.strip() else parts[:-1]


def _span(source: Source, piece: Word, bar_beats: int) -> ChordSpan:
    words = [Word(m.group(), piece.line, piece.column + m.start()) for m in re.finditer(r"\S+", piece.text)]
    try:
        chord = read_chord(words[0].text)
    except BadSettings as err:
        source.fail_word(words[0], err.problem, err.remedy)
    beats, rest = bar_beats, words[1:]
    if rest:
        if rest[0].text.lower() != "for":
            source.fail_word(
                rest[0], f"found {shown(rest[0].text)} after a chord", "put a comma, or write: 4 for 2"
            )
        if len(rest) < 2:
            source.fail_word(rest[0], "found for without a number", "write the beats, such as 4 for 2")
        beats = _beats(source, rest[1])
        rest = rest[2:]
        if rest and rest[0].text.lower() in ("beat", "beats"):
            rest = rest[1:]
    if rest:
        source.fail_word(
            rest[0], f"found {shown(rest[0].text)} after a whole chord", "put a comma before the next chord"
        )
    return ChordSpan(chord=chord, beats=beats)


def _beats(source: Source, word: Word) -> int:
    digits = word.text.isascii() and word.text.isdecimal() and len(word.text) <= 3
    if digits and 1 <= int(word.text) <= MOST_BEATS:
        return int(word.text)
    source.fail_word(
        word,
        f"found {shown(word.text)} for the beats of a chord",
        f"write a whole number from 1 to {MOST_BEATS}",
    )


def _hint(text: str) -> str:
    """Return what was probably meant by a chord that is not written by number."""
    usual = "write a number from 1 to 7, such as 4, 6- or b7"
    number = re.fullmatch(r"([1-7])(m|min|b|#)", text)
    if number:
        degree, mark = number.groups()
        return f"did you mean {f'{degree}{MINOR_MARK}' if mark[0] == 'm' else f'{mark}{degree}'}"
    if text.lower() in _ROMAN:
        minor = MINOR_MARK if text.islower() else ""
        return f"did you mean {_ROMAN.index(text.lower()) + 1}{minor}"
    if _LETTER_CHORD.fullmatch(text):
        return f"{usual}; letters follow from the key"
    return usual
