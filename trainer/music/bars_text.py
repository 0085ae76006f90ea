"""Read bars of strokes written in words; :mod:`trainer.music.notation` describes the words."""

from __future__ import annotations

import re

from trainer.music.pattern import MAX_BARS, MAX_STROKES
from trainer.music.source import Source, Word, nearest, shown
from trainer.music.strokes import DEFAULT_BRUSH, DRONE, HIGHEST_FRET, Hand, Kind, Motion, Stroke

KIND_WORDS = tuple(kind.value for kind in Kind)


class BarsReader:
    """Reads the value of ``bars``, knowing where in the file it stands."""

    def __init__(self, source: Source, motion: tuple[Motion, ...]) -> None:
        self.source = source
        self.motion = motion

    def bars(self, text: Word) -> tuple[tuple[Stroke, ...], ...]:
        """Return the bars of a text that stands at a place in the file.

        Raises:
            BadNotation: the first thing that is wrong.
        """
        bars: list[tuple[Stroke, ...]] = []
        for offset, raw in enumerate(text.text.split("\n")):
            column = text.column if offset == 0 else 1
            pieces = Word(raw.split("#", 1)[0], text.line + offset, column).split("|")
            if len(pieces) == 1 and not pieces[0].text.strip():
                continue
            for number, piece in enumerate(pieces):
                if piece.text.strip():
                    bars.append(self.bar(piece))
                    self._check_limits(bars, piece)
                elif 0 < number < len(pieces) - 1:
                    self.source.fail_word(piece, "found an empty bar", "write its strokes or remove one |")
        if not bars:
            self.source.fail_word(text, "there is no bar", "write at least one bar of strokes")
        return tuple(bars)

    def _check_limits(self, bars: list[tuple[Stroke, ...]], piece: Word) -> None:
        if len(bars) > MAX_BARS:
            self.source.fail_word(
                piece, f"this is bar {len(bars)} and a pattern has at most {MAX_BARS}", "split the pattern"
            )
        if len(bars) * len(self.motion) > MAX_STROKES:
            self.source.fail_word(
                piece, f"this bar passes {MAX_STROKES} strokes, the most a pattern has", "split the pattern"
            )

    def bar(self, piece: Word) -> tuple[Stroke, ...]:
        """Return one bar of strokes.

        Raises:
            BadNotation: the first thing that is wrong.
        """
        parts = piece.split(",")
        strokes = [self._stroke(part, slot) for slot, part in enumerate(parts[: len(self.motion)])]
        if len(parts) > len(self.motion):
            self.source.fail_word(
                parts[len(self.motion)].trimmed(),
                f"stroke {len(self.motion) + 1} stands in a bar of {len(self.motion)} slots",
                "begin a new line for the next bar",
            )
        if len(parts) < len(self.motion):
            self.source.fail_word(
                piece.trimmed(),
                f"this bar has {len(parts)} of its {len(self.motion)} strokes",
                "write one for each slot; rest is a stroke too",
            )
        return tuple(strokes)

    def _stroke(self, part: Word, slot: int) -> Stroke:
        words = [Word(m.group(), part.line, part.column + m.start()) for m in re.finditer(r"\S+", part.text)]
        if not words:
            self.source.fail_word(part, "found nothing between two commas", "write a stroke, such as rest")
        accented = words[0].text.lower() == "accented"
        if accented and len(words) == 1:
            self.source.fail_word(words[0], "found accented without a stroke", "write what is accented")
        head, *rest = words[1:] if accented else words
        kind = self._kind(head)
        if accented and not kind.sounds:
            self.source.fail_word(
                words[0], f"a {kind.value} is silent and cannot be accented", "remove accented"
            )
        way = self.motion[slot]
        if kind.motion not in (None, way):
            article, wanted = ("a", "up") if way is Motion.DOWN else ("an", "down")
            self.source.fail_word(
                head,
                f"slot {slot + 1} is {article} {way.value} slot and a {kind.value} needs "
                f"the hand going {wanted}",
                f"write {strokes_for(way)}",
            )
        strings, rest = self._strings(kind, head, rest)
        frets, rest = self._brush_frets(kind, strings, rest)
        fret, rest = self._fret(kind, rest)
        if rest:
            self.source.fail_word(
                rest[0], f"found {shown(rest[0].text)} after a whole stroke",
                "put a comma before the next stroke",
            )  # fmt: skip
        return Stroke(kind=kind, strings=strings, fret=fret, frets=frets, accented=accented)

    def _kind(self, word: Word) -> Kind:
        text = word.text.lower()
        if text in KIND_WORDS:
            return Kind(text)
        near = nearest(text, (*KIND_WORDS, "accented"))
        hint = f"did you mean {near}" if near else f"write one of {', '.join(KIND_WORDS)}"
        self.source.fail_word(word, f"found {shown(word.text)} where a stroke should be", hint)

    def _strings(self, kind: Kind, head: Word, rest: list[Word]) -> tuple[tuple[int, ...], list[Word]]:
        if kind is Kind.THUMB:
            return (DRONE,), rest
        if not kind.sounds:
            return (), rest
        if kind is Kind.BRUSH:
            return self._brush(rest)
        if not rest:
            self.source.fail_word(head, f"a {kind.value} names no string", f"write {kind.value} 3")
        return (self._number(rest[0], kind.strings, f"the string of a {kind.value}"),), rest[1:]

    def _brush(self, rest: list[Word]) -> tuple[tuple[int, ...], list[Word]]:
        if not rest or rest[0].text[0].isalpha():
            return DEFAULT_BRUSH, rest
        strings = Kind.BRUSH.strings
        first = self._number(rest[0], strings, "the first string of a brush")
        if len(rest) < 3 or rest[1].text.lower() != "to":
            self.source.fail_word(rest[0], "a brush names one string", "write where it ends: brush 4 to 1")
        last = self._number(rest[2], strings, "the last string of a brush")
        if last >= first:
            self.source.fail_word(
                rest[2], f"a brush from {first} to {last} does not fall",
                "write the higher number first: brush 4 to 1",
            )  # fmt: skip
        return tuple(range(first, last - 1, -1)), rest[3:]

    def _fret(self, kind: Kind, rest: list[Word]) -> tuple[int | None, list[Word]]:
        if not rest or rest[0].text.lower() != "fret":
            return None, rest
        if not kind.takes_fret:
            hint = "write frets, one for each string" if kind is Kind.BRUSH else "remove it"
            self.source.fail_word(rest[0], f"a {kind.value} takes no fret", hint)
        if len(rest) < 2:
            self.source.fail_word(rest[0], "found fret without a number", "write fret 2")
        # A hammer-on or a slide to the open string makes no sound of its own.
        least = 1 if kind.hand is Hand.LEFT and kind is not Kind.PULL_OFF else 0
        frets = tuple(range(least, HIGHEST_FRET + 1))
        return self._number(rest[1], frets, f"the fret of a {kind.value}"), rest[2:]

    def _brush_frets(
        self, kind: Kind, strings: tuple[int, ...], rest: list[Word]
    ) -> tuple[tuple[int, ...], list[Word]]:
        if kind is not Kind.BRUSH or not rest or rest[0].text.lower() != "frets":
            return (), rest
        allowed = tuple(range(HIGHEST_FRET + 1))
        given = rest[1 : 1 + len(strings)]
        frets = tuple(
            self._number(word, allowed, f"the fret of string {string}")
            for word, string in zip(given, strings, strict=False)
        )
        if len(frets) < len(strings):
            self.source.fail_word(
                rest[0], f"found {len(frets)} frets for {len(strings)} strings",
                f"write one for each string from {strings[0]} to {strings[-1]}",
            )  # fmt: skip
        return frets, rest[1 + len(strings) :]

    def _number(self, word: Word, allowed: tuple[int, ...], what: str) -> int:
        digits = word.text.isascii() and word.text.isdecimal() and len(word.text) <= 2
        if digits and int(word.text) in allowed:
            return int(word.text)
        self.source.fail_word(
            word,
            f"found {shown(word.text)} for {what}",
            f"write a number from {allowed[0]} to {allowed[-1]}",
        )


def strokes_for(way: Motion) -> str:
    words = [kind.value for kind in Kind if kind.motion in (None, way)]
    return ", ".join(words[:-1]) + f" or {words[-1]}"
