"""Read bars of strokes written in words; :mod:`trainer.music.notation` describes the words."""

from __future__ import annotations

import re
from dataclasses import dataclass

from trainer.music.form import Bars, Part
from trainer.music.form_text import read_bars, read_form
from trainer.music.pattern import MAX_STROKES
from trainer.music.source import Source, Word, nearest, shown
from trainer.music.strokes import (
    DEFAULT_BRUSH,
    DRONE,
    HIGHEST_FRET,
    TRIPLET_MORE,
    Kind,
    Motion,
    Stroke,
    is_triplet,
)

KIND_WORDS = tuple(kind.value for kind in Kind)
MANNERS = ("accented", "muted")
NOT_OF_THIS_HAND = {
    "pinch": "a falling hand leaves the thumb behind: write strike 3, and thumb in the next slot",
    "up-brush": "a rising hand plays with the thumb: write brush on a down slot, or thumb here",
}


@dataclass(frozen=True, slots=True)
class Placed:
    """A stroke and where it stands in the file."""

    stroke: Stroke
    word: Word


class BarsReader:
    """Reads the value of ``bars``, knowing where in the file it stands.

    Attributes:
        source: the file.
        motion: the hand's way through each slot of a bar.
        slots_per_beat: slots of one beat, which a triplet fills.
    """

    def __init__(self, source: Source, motion: tuple[Motion, ...], slots_per_beat: int) -> None:
        self.source = source
        self.motion = motion
        self.slots_per_beat = slots_per_beat

    def read(self, text: Word) -> tuple[Bars[Placed], tuple[Part, ...]]:
        """Return the bars of a text as they are played, each stroke with its place, and their form.

        Raises:
            BadNotation: the first thing that is wrong.
        """
        bars, parts = read_form(self.source, read_bars(self.source, text, "strokes"), self)
        if len(bars) * len(self.motion) > MAX_STROKES:
            self.source.fail_word(
                bars[MAX_STROKES // len(self.motion)][0].word,
                f"this bar passes {MAX_STROKES} strokes, the most a pattern has", "split the pattern",
            )  # fmt: skip
        return bars, parts

    def pickup(self, piece: Word) -> tuple[Placed, ...]:
        """Return the strokes of a pickup, which are the last of a bar."""
        parts = piece.split(",")
        if len(parts) >= len(self.motion):
            self.source.fail_word(
                piece.trimmed(),
                f"this pickup has {len(parts)} strokes in bars of {len(self.motion)} slots",
                "write fewer, or make it a bar",
            )
        first = len(self.motion) - len(parts)
        return self._strokes(parts, first, len(self.motion))

    def bar(self, piece: Word, missing: int = 0) -> tuple[Placed, ...]:
        """Return one bar of strokes, without those at its end that a pickup takes.

        Raises:
            BadNotation: the first thing that is wrong.
        """
        return self._strokes(piece.split(","), 0, len(self.motion) - missing)

    def _strokes(self, parts: list[Word], first: int, end: int) -> tuple[Placed, ...]:
        slots, of = end - first, len(self.motion)
        strokes = tuple(
            Placed(self._stroke(part, first + at), part.trimmed()) for at, part in enumerate(parts[:slots])
        )
        pickup = "" if first or end == of else f", the other {of - end} being the pickup that follows"
        if len(parts) > slots:
            self.source.fail_word(
                parts[slots].trimmed(),
                f"stroke {slots + 1} stands in a bar of {slots} slots{pickup}",
                "begin a new line for the next bar",
            )
        if len(parts) < slots:
            self.source.fail_word(
                parts[0].trimmed(),
                f"this bar has {len(parts)} of its {slots} strokes{pickup}",
                "write one for each slot; rest is a stroke too",
            )
        self._check_triplets(strokes, first, end)
        return strokes

    def _check_triplets(self, strokes: tuple[Placed, ...], first: int, end: int) -> None:
        """Refuse a triplet that has not a whole beat to itself."""
        spb = self.slots_per_beat
        for at, placed in enumerate(strokes):
            if not placed.stroke.triplet:
                continue
            rest = strokes[at + 1 : at + spb]
            whole = (first + at) % spb == 0 and first + at + spb <= end
            if not whole or any(each.stroke.kind is not Kind.REST for each in rest):
                self.source.fail_word(
                    placed.word, "a triplet takes a whole beat and nothing else has room in it",
                    "put it on a beat and write rest for the beat's other slots",
                )  # fmt: skip

    def _stroke(self, part: Word, slot: int) -> Stroke:
        words = [Word(m.group(), part.line, part.column + m.start()) for m in re.finditer(r"\S+", part.text)]
        if not words:
            self.source.fail_word(part, "found nothing between two commas", "write a stroke, such as rest")
        said: dict[str, Word] = {}
        while words[0].text.lower() in MANNERS and words[0].text.lower() not in said:
            manner = words[0].text.lower()
            said[manner] = words[0]
            if len(words) == 1:
                self.source.fail_word(words[0], f"found {manner} without a stroke", f"write what is {manner}")
            words = words[1:]
        head, *rest = words
        kind = self._kind(head)
        if "accented" in said and not kind.sounds:
            self.source.fail_word(
                said["accented"], f"a {kind.value} is silent and cannot be accented", "remove accented"
            )
        if "muted" in said and not kind.may_be_muted:
            self.source.fail_word(
                said["muted"], f"a {kind.value} is not muted", "remove muted; a strike and a brush can be"
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
        slid_from, rest = self._slid_from(kind, fret, rest)
        triplet, rest = self._triplet(kind, fret, rest)
        for manner, word in (("slid", slid_from), ("a triplet", triplet)):
            if word and "muted" in said:
                self.source.fail_word(
                    said["muted"], f"a muted stroke cannot be {manner}", "remove one of the two"
                )
        if rest:
            self.source.fail_word(
                rest[0], f"found {shown(rest[0].text)} after a whole stroke",
                "put a comma before the next stroke",
            )  # fmt: skip
        return Stroke(
            kind=kind,
            strings=strings,
            fret=fret,
            frets=frets,
            accented="accented" in said,
            muted="muted" in said,
            slid_from=slid_from,
            triplet=triplet,
        )

    def _kind(self, word: Word) -> Kind:
        text = word.text.lower()
        if text in KIND_WORDS:
            return Kind(text)
        if text in NOT_OF_THIS_HAND:
            self.source.fail_word(word, f"found {shown(word.text)}", NOT_OF_THIS_HAND[text])
        near = nearest(text, (*KIND_WORDS, *MANNERS))
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
        frets = tuple(range(kind.least_fret, HIGHEST_FRET + 1))
        return self._number(rest[1], frets, f"the fret of a {kind.value}"), rest[2:]

    def _slid_from(self, kind: Kind, fret: int | None, rest: list[Word]) -> tuple[int | None, list[Word]]:
        if not rest or rest[0].text.lower() != "slid":
            return None, rest
        if not kind.may_be_slid_into or not fret:
            self.source.fail_word(
                rest[0], "only a strike or a drop-thumb at a fret can be slid into",
                "name its fret first: strike 3 fret 4 slid from 2",
            )  # fmt: skip
        if len(rest) < 3 or rest[1].text.lower() != "from":
            self.source.fail_word(rest[0], "found slid without where from", "write slid from 2")
        frets = tuple(each for each in range(1, HIGHEST_FRET + 1) if each != fret)
        return self._number(rest[2], frets, "the fret to slide from"), rest[3:]

    def _triplet(self, kind: Kind, fret: int | None, rest: list[Word]) -> tuple[tuple[int, ...], list[Word]]:
        if not rest or rest[0].text.lower() != "triplet":
            return (), rest
        frets = tuple(range(HIGHEST_FRET + 1))
        more = tuple(self._number(word, frets, "a fret of a triplet") for word in rest[1 : 1 + TRIPLET_MORE])
        if not is_triplet(fret or 0, more, kind):
            self.source.fail_word(
                rest[0], "these notes are no triplet",
                "write two more frets, each another than the one before: strike 3 triplet 2 0",
            )  # fmt: skip
        return more, rest[1 + TRIPLET_MORE :]

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
