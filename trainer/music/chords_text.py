"""Read and write chords by number, with the beats of each.

::

    1 for 4, 4 for 2, 1 for 2      # four beats of 1, two of 4, two of 1
    1, 5 | 6-, b7 for 1, #4 for 1  # without "for" a chord lasts one bar
    5^7, 1/3 for 1 1/2, no chord for 1/2

A chord is a number from 1 to 7; ``-`` after it makes it minor, ``b`` or ``#`` before it moves it down or up
by a half step. After that may stand ``^7`` (after a minor ``7``), ``maj7``, ``dim``, ``sus4`` or ``sus2``,
and ``/`` with the number of the note in the bass. ``no chord`` is none. Commas, ``|`` and line ends part the
chords. ``#`` begins a remark unless a number follows at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.chart import (
    MINOR_MARK,
    NO_CHORD,
    SHIFT_MARKS,
    TONE_MARKS,
    Beats,
    Chord,
    ChordSpan,
    Degree,
    Tones,
)
from trainer.music.form import Part
from trainer.music.form_text import read_parts
from trainer.music.pattern import MAX_BARS, Meter
from trainer.music.source import Source, Word, shown

MOST_BEATS = MAX_BARS * max(meter.beats for meter in Meter)
SPANS_A_LINE = 6  # when written: as many as are read at a glance
PARTS_OF_A_BEAT = (2, 3, 4)  # as finely as slots part a beat
_CHORD = re.compile(
    r"(?P<shift>[b#♭♯]?)(?P<degree>[1-7])(?P<minor>-?)"
    r"(?P<tones>\^?7|⁷|maj7|dim|°|sus4?|sus2|)(?:/(?P<low>[b#♭♯]?)(?P<bass>[1-7]))?"
)
_TONES = {mark: tones for tones, mark in TONE_MARKS.items()} | {
    "7": Tones.SEVENTH,
    "⁷": Tones.SEVENTH,
    "°": Tones.DIMINISHED,
    "sus": Tones.SUSPENDED,
}
_REMARK = re.compile(r"#(?!\d).*", re.DOTALL)
_SHIFTS = {mark: shift for shift, mark in SHIFT_MARKS.items()} | {"♭": -1, "♯": 1}
_ROMAN = ("i", "ii", "iii", "iv", "v", "vi", "vii")
_LETTER_CHORD = re.compile(r"([A-G])([#b]?)(m|min|-)?(7|maj7|dim|sus[24]?)?")


def read_chord(text: str) -> Chord:
    """Return a chord from its number, such as ``4``, ``6-`` or ``b7``.

    Raises:
        BadSettings: not a chord by number.
    """
    found = _CHORD.fullmatch(text)
    if text == NO_CHORD.words:
        return NO_CHORD
    # A bare 7 after a major number could be read as another number: it is written ^7.
    if found and not (found["tones"] == "7" and not found["minor"]):
        tones, minor = _TONES[found["tones"]], bool(found["minor"])
        if minor and tones not in (Tones.TRIAD, Tones.SEVENTH):
            raise BadSettings(
                f"found {shown(text)}, minor and {tones.value} at once",
                f"leave out {MINOR_MARK}, or the rest",
            )
        low = found["bass"]
        return Chord(
            degree=int(found["degree"]),
            shift=_SHIFTS[found["shift"]],
            minor=minor,
            tones=tones,
            bass=Degree(degree=int(low), shift=_SHIFTS[found["low"]]) if low else None,
        )
    raise BadSettings(f"found {shown(text)} where a chord should be", _hint(text))


def chords_words(spans: Iterable[ChordSpan]) -> tuple[str, ...]:
    """Return spans as lines of text; :func:`read_chords` gives the same spans back."""
    words = [f"{span.chord.words} for {beats_words(span.beats)}" for span in spans]
    return tuple(", ".join(words[at : at + SPANS_A_LINE]) for at in range(0, len(words), SPANS_A_LINE))


def beats_words(beats: Beats) -> str:
    """Return a length in beats as it is written: ``2``, ``1/2``, ``1 1/2``."""
    whole, part = divmod(Fraction(beats), 1)
    return " ".join(str(each) for each in (whole, part) if each) or "0"


def read_chords(source: Source, text: Word, bar_beats: int) -> tuple[ChordSpan, ...]:
    """Return the chords of a text that stands at a place in a file, parts played as often as they say.

    Args:
        source: the file, for pointing at what is wrong.
        text: one or more lines.
        bar_beats: beats of a bar, the length of a chord that names none.

    Raises:
        BadNotation: the first thing that is wrong, also a length that is not a whole number of bars.
    """
    return read_chart_form(source, text, bar_beats)[0]


def read_chart_form(
    source: Source, text: Word, bar_beats: int
) -> tuple[tuple[ChordSpan, ...], tuple[Part, ...]]:
    """Return the chords of a text as they are played, and its parts; no parts where there are no headings.

    Raises:
        BadNotation: as :func:`read_chords`.
    """
    spans: list[ChordSpan] = []
    parts: list[Part] = []
    for part in read_parts(source, text, remark=_REMARK, pickups=False):
        if not part.body:
            source.fail_word(text, "there is no chord", "write at least one, such as 1 for 4")
        body = _stretch(source, part.body, bar_beats)
        endings = [_stretch(source, lines, bar_beats) for lines in part.endings]
        for time in range(part.times):
            spans += body
            spans += endings[time] if endings else ()
            if _length(spans) > MAX_BARS * bar_beats:
                source.fail_word(
                    part.heading.trimmed(),
                    f"this passes {MAX_BARS} bars, the most there can be",
                    "split the tune",
                )
        parts.append(
            Part(
                name=part.name,
                times=part.times,
                bars=_bars(body, bar_beats),
                endings=tuple(_bars(each, bar_beats) for each in endings),
            )
        )
    return tuple(spans), tuple(parts) if parts[0].name else ()


def _stretch(source: Source, lines: list[Word], bar_beats: int) -> tuple[ChordSpan, ...]:
    """Return the chords of some lines, which fill whole bars."""
    spans: list[ChordSpan] = []
    for piece in _pieces(source, lines):
        spans.append(_span(source, piece, bar_beats))
        if _length(spans) > MAX_BARS * bar_beats:
            source.fail_word(
                piece, f"this chord passes {MAX_BARS} bars, the most there can be", "split the tune"
            )
    over = _length(spans) % bar_beats
    if over:
        source.fail_word(
            piece,
            f"the chords end {beats_words(over)} beat{'s' if over > 1 else ''} into a bar of {bar_beats}",
            "give the last chord the beats that are missing",
        )
    return tuple(spans)


def _length(spans: Iterable[ChordSpan]) -> Fraction:
    return Fraction(sum(span.beats for span in spans))


def _bars(spans: Iterable[ChordSpan], bar_beats: int) -> int:
    return int(_length(spans) / bar_beats)


def _pieces(source: Source, lines: list[Word]) -> list[Word]:
    """Return the chords of all lines, each with its place."""
    pieces = []
    for line in lines:
        # A comma may end a line and a bar stroke may stand at either end: nothing is missing there.
        parts = [part for bar in line.split("|") for part in _without_last_empty(bar.split(","))]
        for part in parts:
            if not part.text.strip():
                source.fail_word(part, "found nothing between two commas", "write a chord, such as 4 for 2")
            pieces.append(part.trimmed())
    if not pieces:
        source.fail_word(lines[0], "there is no chord", "write at least one, such as 1 for 4")
    return pieces


def _without_last_empty(parts: list[Word]) -> list[Word]:
    return parts if parts[-1].text.strip() else parts[:-1]


def _span(source: Source, piece: Word, bar_beats: int) -> ChordSpan:
    words = [Word(m.group(), piece.line, piece.column + m.start()) for m in re.finditer(r"\S+", piece.text)]
    name, rest = words[0], words[1:]
    if name.text.lower() == "no" and rest and rest[0].text.lower() == "chord":
        name, rest = Word(NO_CHORD.words, name.line, name.column), rest[1:]
    try:
        chord = read_chord(name.text)
    except BadSettings as err:
        source.fail_word(name, err.problem, err.remedy)
    beats: Beats = bar_beats
    if rest:
        if rest[0].text.lower() != "for":
            source.fail_word(
                rest[0], f"found {shown(rest[0].text)} after a chord", "put a comma, or write: 4 for 2"
            )
        if len(rest) < 2:
            source.fail_word(rest[0], "found for without a number", "write the beats, such as 4 for 2")
        beats, rest = _beats(source, rest[1:])
        if rest and rest[0].text.lower() in ("beat", "beats"):
            rest = rest[1:]
    if rest:
        source.fail_word(
            rest[0], f"found {shown(rest[0].text)} after a whole chord", "put a comma before the next chord"
        )
    return ChordSpan(chord=chord, beats=beats)


def _beats(source: Source, words: list[Word]) -> tuple[Beats, list[Word]]:
    """Return the beats that words begin with, such as ``2``, ``1/2`` or ``1 1/2``, and the words after."""
    part = _part(words[0].text)
    if part is not None:
        return part, words[1:]
    whole = words[0].text
    if whole.isascii() and whole.isdecimal() and len(whole) <= 3 and 1 <= int(whole) <= MOST_BEATS:
        more = _part(words[1].text) if len(words) > 1 else None
        return (int(whole), words[1:]) if more is None else (int(whole) + more, words[2:])
    source.fail_word(
        words[0],
        f"found {shown(whole)} for the beats of a chord",
        f"write a whole number from 1 to {MOST_BEATS}, or a part of a beat such as 1/2 or 1 1/2",
    )


def _part(text: str) -> Fraction | None:
    """Return a part of a beat, less than one; None where a word is none."""
    found = re.fullmatch(r"([1-3])/([2-4])", text)
    if found is None:
        return None
    above, below = int(found[1]), int(found[2])
    return Fraction(above, below) if above < below and below in PARTS_OF_A_BEAT else None


def _hint(text: str) -> str:
    """Return what was probably meant by a chord that is not written by number."""
    usual = "write a number from 1 to 7, such as 4, 6- or b7"
    seventh = re.fullmatch(r"([b#]?[1-7])(7|seven|seventh)", text)
    if seventh:
        return f"did you mean {seventh[1]}^7"
    if text.lower().replace(".", "") in ("nc", "n/c", "none", "silence"):
        return f"did you mean {NO_CHORD.words}"
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
