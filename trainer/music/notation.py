"""Read and write a pattern's text.

A pattern file is TOML. Its key ``bars`` holds the strokes in words that can be read aloud: one bar a
line (or several parted by ``|``), strokes parted by commas, ``#`` begins a remark::

    strike 3, rest, accented brush, thumb
    skip, drop-thumb 2, brush 4 to 1, thumb     # the skip figure

A stroke is ``[accented] strike N``, ``brush [N to M]``, ``thumb``, ``drop-thumb N``, ``skip``,
``rest``, ``hammer-on N``, ``pull-off N`` or ``slide N``; after a string may stand ``fret F``.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import NoReturn

from trainer.music.bars_text import BarsReader
from trainer.music.pattern import (
    FASTEST_BPM,
    MAX_TEACHER,
    MAX_TITLE,
    SLOWEST_BPM,
    Level,
    Meter,
    Pattern,
    usual_motion,
)
from trainer.music.source import Source, Word, nearest, shown
from trainer.music.strokes import DEFAULT_BRUSH, Kind, Motion, Stroke

MAX_FILE_BYTES = 64 * 1024
MAX_STEP = 999
MAX_NEEDS = 16

REQUIRED_KEYS = ("title", "level", "step", "meter", "slots_per_beat", "slow_bpm", "goal_bpm", "bars")
OPTIONAL_KEYS = ("needs", "motion", "teacher")
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_KEY_LINE = re.compile(r"[ \t]*([A-Za-z0-9_-]+)[ \t]*=[ \t]*")


def read_pattern(text: str, *, name: str, source: str = "<text>") -> Pattern:
    """Read a pattern from the text of its file.

    Args:
        text: the whole file; a byte-order mark and either kind of line end are accepted.
        name: what other patterns call it, usually the file's stem.
        source: what to call the file in an error.

    Raises:
        BadNotation: the first thing that is wrong, with its line and column.
    """
    return _Reader.of(text.removeprefix("\ufeff").replace("\r\n", "\n"), source).pattern(name)


def write_pattern(pattern: Pattern) -> str:
    """Return the text of a pattern; :func:`read_pattern` gives the same pattern back.

    Raises:
        ValueError: a tempo that has no finite decimal form, which no file can have given.
    """
    lines = [
        f"title = {_quoted(pattern.title)}",
        f"level = {_quoted(pattern.level.value)}",
        f"step = {pattern.step}",
        f"meter = {_quoted(pattern.meter.value)}",
        f"slots_per_beat = {pattern.slots_per_beat}",
        f"slow_bpm = {_decimal(pattern.slow_bpm)}",
        f"goal_bpm = {_decimal(pattern.goal_bpm)}",
    ]
    if pattern.motion != usual_motion(pattern.meter, pattern.slots_per_beat):
        lines.append(f"motion = {_quoted(', '.join(m.value for m in pattern.motion))}")
    lines.append(f"needs = [{', '.join(_quoted(need) for need in pattern.needs)}]")
    lines.append(f"teacher = {_quoted(pattern.teacher)}")
    bars = [", ".join(stroke_words(stroke) for stroke in bar) for bar in pattern.bars]
    return "\n".join([*lines, 'bars = """', *bars, '"""', ""])


def stroke_words(stroke: Stroke) -> str:
    """Return a stroke in the words of a pattern file, such as ``drop-thumb 3``."""
    words = ["accented"] if stroke.accented else []
    words.append(stroke.kind.value)
    if stroke.kind is Kind.BRUSH:
        if stroke.strings != DEFAULT_BRUSH:
            words.append(f"{stroke.strings[0]} to {stroke.strings[-1]}")
    elif stroke.kind is not Kind.THUMB and stroke.strings:
        words.append(str(stroke.strings[0]))
    if stroke.fret is not None:
        words.append(f"fret {stroke.fret}")
    return " ".join(words)


def _quoted(text: str) -> str:
    # TOML's basic strings take JSON's escapes, but want DEL escaped too.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _decimal(value: Fraction) -> str:
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    if Fraction(exact) != value:
        raise ValueError(f"{value} has no finite decimal form")
    return f"{exact:f}"


class _Reader:
    """One reading of one file: its text, its parsed table, and where each key stands."""

    def __init__(self, text: str, source: str) -> None:
        self.lines = text.split("\n")
        self.source = Source(source, tuple(self.lines))
        self.table: Mapping[str, object] = {}
        self.places = _key_places(self.lines)

    @classmethod
    def of(cls, text: str, source: str) -> _Reader:
        reader = cls(text, source)
        size = len(text.encode("utf-8", errors="surrogatepass"))
        if size > MAX_FILE_BYTES:
            reader.source.fail(
                1, 1, f"the file is {size} bytes long and at most {MAX_FILE_BYTES} are read",
                "split it into several patterns",
            )  # fmt: skip
        try:
            # Decimal keeps 97.3 as it was written; a float would not.
            reader.table = tomllib.loads(text, parse_float=Decimal)
        except tomllib.TOMLDecodeError as err:
            reader.fail_toml(err)
        return reader

    def fail_key(self, key: str, problem: str, remedy: str) -> NoReturn:
        line, column = self.places.get(key, (1, 1))
        self.source.fail(line, column, problem, remedy)

    def fail_toml(self, err: tomllib.TOMLDecodeError) -> NoReturn:
        # Python 3.14 gives the place as fields; before, it stands only in the message.
        message = str(err)
        place = re.search(r"\(at line (\d+), column (\d+)\)", message)
        line, column = (int(place[1]), int(place[2])) if place else (len(self.lines), 1)
        reason = re.sub(r"\s*\(at .*\)$", "", message)
        if not place:
            column = len(self.lines[-1]) + 1
        self.source.fail(line, column, f"this is not TOML: {reason}", "mend this line")

    def pattern(self, name: str) -> Pattern:
        for key in self.table:
            if key not in REQUIRED_KEYS + OPTIONAL_KEYS:
                near = nearest(key, REQUIRED_KEYS + OPTIONAL_KEYS)
                hint = f"did you mean {near}" if near else "remove it"
                self.fail_key(key, f"found the key {key}, which patterns do not have", hint)
        for key in REQUIRED_KEYS:
            if key not in self.table:
                self.source.fail(1, 1, f"the key {key} is missing", "add a line for it")
        meter = Meter(self.choice("meter", tuple(m.value for m in Meter)))
        spb = self.whole("slots_per_beat", 2, 4)
        if spb not in meter.slots_per_beat_choices:
            wanted = " or ".join(str(n) for n in meter.slots_per_beat_choices)
            self.fail_key(
                "slots_per_beat", f"found {spb} slots to a beat in {meter.value}", f"write {wanted}"
            )
        motion = self.motion(meter, spb)
        slow, goal = self.tempo("slow_bpm"), self.tempo("goal_bpm")
        if goal < slow:
            self.fail_key("goal_bpm", "goal_bpm is below slow_bpm", "write the faster tempo here")
        return Pattern(
            name=name,
            title=self.words("title", MAX_TITLE),
            level=Level(self.choice("level", tuple(v.value for v in Level))),
            step=self.whole("step", 1, MAX_STEP),
            meter=meter,
            slots_per_beat=spb,
            motion=motion,
            bars=BarsReader(self.source, motion).bars(self.bars_text()),
            needs=self.needs(name),
            slow_bpm=slow,
            goal_bpm=goal,
            teacher=self.words("teacher", MAX_TEACHER) if "teacher" in self.table else "",
        )

    def words(self, key: str, most: int) -> str:
        value = self.table[key]
        if not isinstance(value, str):
            self.fail_key(key, f"{key} is not text in quotes", f'write {key} = "…"')
        if len(value) > most:
            self.fail_key(key, f"{key} is {len(value)} characters long", f"keep it to {most}")
        if any(not c.isprintable() for c in value):
            self.fail_key(key, f"{key} holds a character that can't be shown", "keep it to one line of text")
        if key == "title" and not value.strip():
            self.fail_key(key, "the title is empty", "give it one")
        return value

    def choice(self, key: str, choices: tuple[str, ...]) -> str:
        value = self.table[key]
        if value not in choices or not isinstance(value, str):
            self.fail_key(key, f"found {shown(value)} for {key}", f"write one of {', '.join(choices)}")
        return value

    def whole(self, key: str, least: int, most: int) -> int:
        value = self.table[key]
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            self.fail_key(
                key, f"found {shown(value)} for {key}", f"write a whole number from {least} to {most}"
            )
        return value

    def tempo(self, key: str) -> Fraction:
        value = self.table[key]
        if isinstance(value, int | Decimal) and not isinstance(value, bool) and _is_short(value):
            bpm = Fraction(value)
            if SLOWEST_BPM <= bpm <= FASTEST_BPM:
                return bpm
        self.fail_key(
            key,
            f"found {shown(value)} for {key}",
            f"write beats a minute from {SLOWEST_BPM} to {FASTEST_BPM}, with at most 6 decimals",
        )

    def needs(self, name: str) -> tuple[str, ...]:
        value = self.table.get("needs", [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.fail_key("needs", "needs is not a list of names", 'write needs = ["name", "name"]')
        if len(value) > MAX_NEEDS:
            self.fail_key("needs", f"needs lists {len(value)} patterns", f"keep it to {MAX_NEEDS}")
        for need in value:
            if not _NAME.fullmatch(need):
                self.fail_key(
                    "needs", f"found the name {shown(need)} in needs",
                    "write a pattern's file name without .toml: small letters, digits and hyphens",
                )  # fmt: skip
            if need == name:
                self.fail_key("needs", "the pattern needs itself", "remove its own name")
        return tuple(value)

    def motion(self, meter: Meter, spb: int) -> tuple[Motion, ...]:
        if "motion" not in self.table:
            return usual_motion(meter, spb)
        words = [word.strip() for word in self.words("motion", MAX_TEACHER).split(",")]
        slots = meter.beats * spb
        for word in words:
            if word not in ("down", "up"):
                self.fail_key("motion", f"found {shown(word)} in motion", "write down or up for each slot")
        if len(words) != slots:
            self.fail_key("motion", f"motion has {len(words)} slots", f"write {slots}, one bar")
        return tuple(Motion(word) for word in words)

    def bars_text(self) -> Word:
        """Return the text of ``bars`` with the place at which it begins."""
        value = self.table["bars"]
        if not isinstance(value, str):
            self.fail_key("bars", "bars is not text", 'write the bars between """ and """')
        line, column = self.places.get("bars", (1, 1))
        rest = "\n".join([self.lines[line - 1][column - 1 :], *self.lines[line:]])
        for quote in ('"""', "'''", '"', "'"):
            if rest.startswith(quote):
                body = rest[len(quote) :]
                column += len(quote)
                if len(quote) == 3 and body.startswith("\n"):
                    body, line, column = body[1:], line + 1, 1
                if body.startswith(value) and body[len(value) :].startswith(quote):
                    return Word(value, line, column)
                break
        # With an escape inside, places in the value are no longer places in the file.
        self.fail_key("bars", "bars holds an escape such as \\n or \\t", "write the character itself")


def _key_places(lines: list[str]) -> dict[str, tuple[int, int]]:
    """Return where each top-level key's value begins, 1-based, for pointing at it."""
    places: dict[str, tuple[int, int]] = {}
    closing = ""
    for number, line in enumerate(lines, start=1):
        start = 0
        if closing:
            end = line.find(closing)
            if end < 0:
                continue
            start, closing = end + 3, ""
        found = _KEY_LINE.match(line) if start == 0 else None
        if found:
            places.setdefault(found[1], (number, found.end() + 1))
            value = line[found.end() :]
            quote = value[:3]
            if quote in ('"""', "'''") and value.find(quote, 3) < 0:
                closing = quote
    return places


def _is_short(value: int | Decimal) -> bool:
    # Asked before a fraction is made of it: 1e999999 must not be spelt out, nor infinity tried.
    if isinstance(value, int):
        return True
    exponent = value.as_tuple().exponent
    return isinstance(exponent, int) and -6 <= exponent <= 6
