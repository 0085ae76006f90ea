"""Read a TOML file of ours so that every value that is wrong can be pointed at."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import NoReturn

from trainer.errors import BadSettings
from trainer.music.bounded_toml import BadToml, read_toml
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM
from trainer.music.source import Source, Word, nearest, shown

MAX_FILE_BYTES = 64 * 1024
MAX_NEEDS = 16
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_KEY_LINE = re.compile(r"[ \t]*([A-Za-z0-9_.-]+)[ \t]*=[ \t]*")
_SECTION_LINE = re.compile(r"[ \t]*\[[ \t]*([A-Za-z0-9_.-]+)[ \t]*\]")

Positions = Mapping[str, tuple[int, int]]


class TomlText:
    """One table of a file: its values, and where each stands.

    Attributes:
        source: the file's name and lines.
        table: the values by key.
    """

    def __init__(
        self, source: Source, table: Mapping[str, object], positions: Positions, section: str = ""
    ) -> None:
        self.source = source
        self.table = table
        self._positions = positions
        self._section = section

    @classmethod
    def of(cls, text: str, source_name: str) -> TomlText:
        """Read a whole file; a byte-order mark and either kind of line end are accepted.

        Raises:
            BadNotation: too long, or not TOML.
        """
        text = text.removeprefix("\ufeff").replace("\r\n", "\n")
        lines = text.split("\n")
        source = Source(source_name, tuple(lines))
        size = len(text.encode("utf-8", errors="surrogatepass"))
        if size > MAX_FILE_BYTES:
            source.fail(
                1, 1, f"the file is {size} bytes long and at most {MAX_FILE_BYTES} are read",
                "split it into several patterns",
            )  # fmt: skip
        try:
            table = read_toml(text)
        except BadToml as err:
            _fail_toml(source, err, text)
        return cls(source, table, _key_positions(lines))

    def position(self, key: str) -> tuple[int, int]:
        """Return the line and column at which a key's value stands; the file's start when not found."""
        return self._positions.get(
            self._section + key, self._positions.get(self._section.rstrip("."), (1, 1))
        )

    def fail_key(self, key: str, problem: str, remedy: str) -> NoReturn:
        """Raise BadNotation for a key's value."""
        line, column = self.position(key)
        self.source.fail(line, column, problem, remedy)

    def check_keys(self, required: tuple[str, ...], optional: tuple[str, ...], whose: str) -> None:
        """Refuse keys that are not known and name the first that is missing."""
        for key in self.table:
            if key not in required + optional:
                near = nearest(key, required + optional)
                hint = f"did you mean {near}" if near else "remove it"
                self.fail_key(key, f"found the key {key}, which {whose} do not have", hint)
        for key in required:
            if key not in self.table:
                self.source.fail(1, 1, f"the key {key} is missing", "add a line for it")

    def section(self, name: str) -> TomlText:
        """Return the table ``[name]`` of the file; an empty one when the file has none."""
        value = self.table.get(name, {})
        if not isinstance(value, dict):
            self.fail_key(name, f"{name} is not a section", f"write [{name}] and its lines below")
        return TomlText(self.source, value, self._positions, f"{self._section}{name}.")

    def words(self, key: str, most: int) -> str:
        """Return one line of text of at most so many characters."""
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
        """Return one of some words."""
        value = self.table[key]
        if value not in choices or not isinstance(value, str):
            self.fail_key(key, f"found {shown(value)} for {key}", f"write one of {', '.join(choices)}")
        return value

    def whole(self, key: str, least: int, most: int) -> int:
        """Return a whole number inside its limits."""
        value = self.table[key]
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            self.fail_key(
                key, f"found {shown(value)} for {key}", f"write a whole number from {least} to {most}"
            )
        return value

    def tempo(self, key: str) -> Fraction:
        """Return a tempo in beats a minute, exactly as written."""
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

    def tempi(self) -> tuple[Fraction, Fraction, Fraction | None]:
        """Return ``slow_bpm``, ``goal_bpm``, and ``playing_bpm`` where the file has it."""
        slow, goal = self.tempo("slow_bpm"), self.tempo("goal_bpm")
        if goal < slow:
            self.fail_key("goal_bpm", "goal_bpm is below slow_bpm", "write the faster tempo here")
        playing = self.tempo("playing_bpm") if "playing_bpm" in self.table else None
        if playing is not None and playing < goal:
            self.fail_key("playing_bpm", "playing_bpm is below goal_bpm", "write the faster tempo here")
        return slow, goal, playing

    def needs(self, name: str) -> tuple[str, ...]:
        """Return the names of the patterns in ``needs``; none when the key is missing."""
        value = self.table.get("needs", [])
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.fail_key("needs", "needs is not a list of names", 'write needs = ["name", "name"]')
        if len(value) > MAX_NEEDS:
            self.fail_key("needs", f"needs lists {len(value)} patterns", f"keep it to {MAX_NEEDS}")
        for need in value:
            if not is_name(need):
                self.fail_key(
                    "needs", f"found the name {shown(need)} in needs",
                    "write a pattern's file name without .toml: small letters, digits and hyphens",
                )  # fmt: skip
            if need == name:
                self.fail_key("needs", "the pattern needs itself", "remove its own name")
        return tuple(value)

    def block(self, key: str) -> Word:
        """Return a text of several lines with the place at which it begins."""
        value = self.table[key]
        if not isinstance(value, str):
            self.fail_key(key, f"{key} is not text", f'write the {key} between """ and """')
        if self._section + key not in self._positions:
            self.fail_key(
                key, f"{key} does not stand on a line of its own", f'write {key} = """ on a new line'
            )
        line, column = self.position(key)
        lines = self.source.lines
        rest = "\n".join([lines[line - 1][column - 1 :], *lines[line:]])
        for quote in ('"""', "'''", '"', "'"):
            if rest.startswith(quote):
                body = rest[len(quote) :]
                column += len(quote)
                if len(quote) == 3 and body.startswith("\n"):
                    body, line, column = body[1:], line + 1, 1
                if body.startswith(value) and body[len(value) :].startswith(quote):
                    return Word(value, line, column)
                break
        # With an escape inside, positions in the value are no longer positions in the file.
        self.fail_key(key, f"{key} holds an escape such as \\n or \\t", "write the character itself")

    def said(self, key: str, err: BadSettings) -> NoReturn:
        """Raise what a reader of words said about a key's value, with its place."""
        self.fail_key(key, err.problem, err.remedy)


def is_name(text: str) -> bool:
    """Return whether a text can be the name of a pattern's file."""
    return bool(_NAME.fullmatch(text))


def _fail_toml(source: Source, err: BadToml, text: str) -> NoReturn:
    if err.at is not None:
        before = text[: err.at]
        column = err.at - (before.rfind("\n") + 1) + 1
        source.fail(before.count("\n") + 1, column, str(err), "mend this line")
    # Python 3.14 gives the place as fields; before, it stands only in the message.
    message = str(err)
    place = re.search(r"\(at line (\d+), column (\d+)\)", message)
    line, column = (int(place[1]), int(place[2])) if place else (len(source.lines), 1)
    reason = re.sub(r"\s*\(at .*\)$", "", message)
    if not place:
        column = len(source.lines[-1]) + 1
    source.fail(line, column, f"this is not TOML: {reason}", "mend this line")


def _key_positions(lines: list[str]) -> dict[str, tuple[int, int]]:
    """Return where each key's value and each section's name begins, 1-based.

    A key inside a section is called ``section.key``.
    """
    positions: dict[str, tuple[int, int]] = {}
    closing, section = "", ""
    for number, line in enumerate(lines, start=1):
        start = 0
        if closing:
            end = line.find(closing)
            if end < 0:
                continue
            start, closing = end + 3, ""
        header = _SECTION_LINE.match(line) if start == 0 else None
        if header:
            positions.setdefault(header[1], (number, header.start(1) + 1))
            section = f"{header[1]}."
        found = _KEY_LINE.match(line) if start == 0 else None
        if found:
            positions.setdefault(section + found[1], (number, found.end() + 1))
            value = line[found.end() :]
            quote = value[:3]
            if quote in ('"""', "'''") and value.find(quote, 3) < 0:
                closing = quote
    return positions


def _is_short(value: int | Decimal) -> bool:
    # Asked before a fraction is made of it: 1e999999 must not be spelt out, nor infinity tried.
    if isinstance(value, int):
        return True
    exponent = value.as_tuple().exponent
    return isinstance(exponent, int) and -6 <= exponent <= 6
