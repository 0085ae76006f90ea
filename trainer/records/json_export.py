"""Read an exported JSON file take by take, so that years of practice, and what only passes for them, fit into
memory.

An export has a line for each take, with the table of patterns after the last. A file that another program has
laid out otherwise is read as one piece, if it is small.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from trainer.errors import BadRecords, StoreProblem
from trainer.music.bounded_json import parse_json
from trainer.records.plain_fields import Fields

FORMAT = "thumbfall takes"
VERSION = 1
LARGEST_FILE_BYTES = 1 << 30
LARGEST_PIECE_BYTES = 8 << 20  # read at once; some ten times as much in memory
MOST_BRACKETS = 200_000  # of lists and tables in one piece
FIRST_LINE_ENDS = b'"takes": ['
LAST_LINE_BEGINS = b'], "patterns": '
_NO_JSON = "this is no JSON", "name a file that thumbfall export wrote"


class Export:
    """An exported file that is open.

    Attributes:
        patterns: the table of patterns, as it stands there.
    """

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._whole: list[object] | None = None
        first = file.readline(LARGEST_PIECE_BYTES)
        head = _piece(first.rstrip() + b"]}") if first.rstrip().endswith(FIRST_LINE_ENDS) else None
        if head is None:
            file.seek(0)
            data = file.read(LARGEST_PIECE_BYTES + 1)
            if len(data) > LARGEST_PIECE_BYTES:
                raise BadRecords(
                    f"the file is larger than {LARGEST_PIECE_BYTES >> 20} MB and not laid out as an export",
                    "name a file as thumbfall export wrote it, or divide it",
                )
            head = _piece(data)
        f = Fields(head)
        if f.text("format") != FORMAT:
            f.fail("format", f'name a file whose format is "{FORMAT}"')
        if f.whole("version") > VERSION:
            f.fail("version", "bring Thumbfall up to date")
        if f.has("patterns"):
            table = f.value("patterns")
            self._whole = f.rows("takes")
        else:
            self._begin = len(first)
            table = self._after_the_takes()
        self.patterns: Mapping[str, object] = table if isinstance(table, dict) else {}

    def takes(self) -> Iterator[object]:
        """Give the tables of the takes."""
        if self._whole is not None:
            yield from self._whole
            return
        self._file.seek(self._begin)
        while (line := self._line().strip()) and not line.startswith(LAST_LINE_BEGINS):
            yield _piece(line.removesuffix(b","))

    def _after_the_takes(self) -> object:
        """Return the table of patterns, which stands after the last take."""
        while line := self._line():
            if line.startswith(LAST_LINE_BEGINS):
                rest = self._file.read(LARGEST_PIECE_BYTES + 1)
                if len(rest) > LARGEST_PIECE_BYTES:
                    break
                text = b'{"patterns": ' + line.removeprefix(LAST_LINE_BEGINS) + rest
                return Fields(_piece(text)).value("patterns")
        raise BadRecords(*_NO_JSON)

    def _line(self) -> bytes:
        line = self._file.readline(LARGEST_PIECE_BYTES + 1)
        if len(line) > LARGEST_PIECE_BYTES:
            raise BadRecords(f"a take is larger than {LARGEST_PIECE_BYTES >> 20} MB", "leave it out")
        return line


@contextmanager
def opened_export(path: Path) -> Iterator[Export]:
    """Open an exported file.

    Raises:
        BadRecords: it is none, or of a newer version.
        StoreProblem: it cannot be read.
    """
    try:
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except (OSError, ValueError) as err:
        reason = err.strerror if isinstance(err, OSError) else err
        raise StoreProblem(f"{path} cannot be read ({reason})", "check the name") from err
    with os.fdopen(descriptor, "rb") as file:
        found = os.fstat(descriptor)
        if not stat.S_ISREG(found.st_mode):
            raise StoreProblem(f"{path} cannot be read (it is no plain file)", "check the name")
        if found.st_size > LARGEST_FILE_BYTES:
            raise BadRecords(
                f"the file is {found.st_size} bytes long", "export the takes in smaller parts, by player"
            )
        try:
            yield Export(file)
        except OSError as err:
            if isinstance(err, StoreProblem):
                raise
            raise StoreProblem(f"{path} cannot be read ({err.strerror})", "check the disk") from err


def _piece(text: bytes) -> object:
    """Return the values of a piece of JSON.

    Raises:
        BadRecords: it is none, or holds more than any take.
    """
    if text.count(b"[") + text.count(b"{") > MOST_BRACKETS:
        raise BadRecords(f"there are more than {MOST_BRACKETS} lists and tables in one piece", "divide it")
    try:
        return parse_json(text)
    except ValueError as err:
        raise BadRecords(*_NO_JSON) from err
