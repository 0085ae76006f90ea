"""Read the rows that stand on the pages of a damaged SQLite file, each page by itself.

SQLite reads a table from its root down, so one page that is lost hides all that hangs under it. Here every
page is looked at for its own sake: a leaf of a table or an index says so in its first byte and lists its
rows. Nothing else of the file need be whole, neither its header nor its list of tables. A row that lies on
several pages is followed over them. What does not fit the format is passed over.

References: sqlite.org/fileformat2.html, sections 1.6 (b-tree pages and cells), 2.1 (records), 4 (write-ahead
log).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, TypeAlias

INDEX_INSIDE, INDEX_LEAF, TABLE_LEAF = 2, 10, 13  # the first byte of a page
PAGE_SIZES = tuple(1 << power for power in range(9, 17))
USUAL_PAGE = 4096
HEADER_BYTES = 100  # at the start of the first page
LARGEST_ROW_BYTES = 64 << 20
LARGEST_FILE_BYTES = 1 << 32
MOST_COLUMNS = 100
LOG_HEADER_BYTES, FRAME_HEADER_BYTES = 32, 24
LOG_MAGIC = {0x377F0682: "<", 0x377F0683: ">"}  # and in which order the checksum takes its bytes

Value: TypeAlias = int | float | str | bytes | None


@dataclass(frozen=True, slots=True)
class PageRow:
    """A row as it stands on a page.

    Attributes:
        number: its number in the table; None in an index, whose rows hold it as their last value.
        values: as SQLite holds them.
    """

    number: int | None
    values: tuple[Value, ...]


def page_sizes(path: Path) -> tuple[int, ...]:
    """Return the sizes that a file's pages may have: the one it says, then the usual one, then others."""
    with path.open("rb") as file:
        header = file.read(HEADER_BYTES)
    said = int.from_bytes(header[16:18]) if len(header) >= 18 else 0
    said = 65536 if said == 1 else said
    first = tuple(dict.fromkeys(size for size in (said, USUAL_PAGE) if size in PAGE_SIZES))
    return (*first, *(size for size in PAGE_SIZES if size not in first))


def rows_on_pages(path: Path, page_size: int) -> Iterator[PageRow]:
    """Give every row of every page that can be read, in the order of the pages.

    What the write-ahead log beside the file holds, up to its last whole transaction, stands for the file's
    own.

    Raises:
        OSError: the file cannot be read.
    """
    with path.open("rb") as file:
        pages = _Pages(file, page_size, _logged_pages(path.with_name(path.name + "-wal"), page_size))
        for number in range(1, pages.last + 1):
            yield from pages.rows(number)


class _Pages:
    """The pages of a file, numbered from 1."""

    def __init__(self, file: BinaryIO, size: int, logged: Mapping[int, bytes]) -> None:
        self._file = file
        self._size = size
        self._logged = logged
        length = min(file.seek(0, 2), LARGEST_FILE_BYTES)
        self.last = max(-(-length // size), max(logged, default=0))

    def rows(self, number: int) -> Iterator[PageRow]:
        """Give the rows of one page; none where it is no leaf."""
        data = self._page(number)
        start = HEADER_BYTES if number == 1 else 0
        if len(data) < start + 12 or data[start] not in (INDEX_INSIDE, INDEX_LEAF, TABLE_LEAF):
            return
        kind = data[start]
        cell_pointers = start + (12 if kind == INDEX_INSIDE else 8)
        cells = int.from_bytes(data[start + 3 : start + 5])
        for at in range(cell_pointers, min(cell_pointers + 2 * cells, len(data) - 1), 2):
            row = self._row(kind, data, int.from_bytes(data[at : at + 2]))
            if row is not None:
                yield row

    def _row(self, kind: int, data: bytes, at: int) -> PageRow | None:
        """Return the row of a cell, None when it fits no row."""
        try:
            if kind == INDEX_INSIDE:
                at += 4  # the page below it
            length, at = _varint(data, at)
            number = None
            if kind == TABLE_LEAF:
                number, at = _varint(data, at)
            record = self._whole(kind, data, at, length)
            return None if record is None else PageRow(_signed(number), _values(record))
        except (IndexError, struct.error, UnicodeDecodeError):
            return None

    def _whole(self, kind: int, data: bytes, at: int, length: int) -> bytes | None:
        """Return the whole of a record of which a part stands at a place; the rest lies on other pages."""
        if not 0 < length <= LARGEST_ROW_BYTES:
            return None
        here = self._here(kind, length)
        part = data[at : at + here]
        if len(part) < here:
            return None
        if here == length:
            return part
        found = [part]
        missing = length - here
        following = int.from_bytes(data[at + here : at + here + 4])
        while missing > 0:
            page = self._page(following) if 1 < following <= self.last else b""
            piece = page[4 : 4 + min(missing, self._size - 4)]
            if not piece:
                return None
            found.append(piece)
            missing -= len(piece)
            following = int.from_bytes(page[:4])
        return b"".join(found)

    def _here(self, kind: int, length: int) -> int:
        """Return how much of a record stands in its cell: section 1.6, with its names."""
        u = self._size
        x = u - 35 if kind == TABLE_LEAF else (u - 12) * 64 // 255 - 23
        m = (u - 12) * 32 // 255 - 23
        k = m + (length - m) % (u - 4)
        if length <= x:
            return length
        return k if k <= x else m

    def _page(self, number: int) -> bytes:
        if number in self._logged:
            return self._logged[number]
        self._file.seek((number - 1) * self._size)
        return self._file.read(self._size)


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """Return a number of one to nine bytes, and where the next thing stands."""
    value = 0
    for byte in range(8):
        value = value << 7 | data[at + byte] & 0x7F
        if data[at + byte] < 0x80:
            return value, at + byte + 1
    return value << 8 | data[at + 8], at + 9


def _signed(number: int | None) -> int | None:
    return number - (1 << 64) if number is not None and number >= 1 << 63 else number


def _values(record: bytes) -> tuple[Value, ...]:
    """Return the columns of a record: section 2.1.

    Raises:
        IndexError: it is cut off, or no record.
        UnicodeDecodeError: a text is not UTF-8.
    """
    end, at = _varint(record, 0)
    if not at <= end <= len(record):
        raise IndexError("a record's head is longer than the record")
    kinds = []
    while at < end:
        kind, at = _varint(record, at)
        kinds.append(kind)
        if len(kinds) > MOST_COLUMNS:
            raise IndexError("no table of ours has so many columns")
    values: list[Value] = []
    at = end
    for kind in kinds:
        size = _WHOLE_BYTES[kind] if kind < len(_WHOLE_BYTES) else (kind - 12) // 2
        if size < 0 or at + size > len(record):
            raise IndexError("a column is cut off")
        values.append(_value(kind, record[at : at + size]))
        at += size
    return tuple(values)


_WHOLE_BYTES = (0, 1, 2, 3, 4, 6, 8, 8, 0, 0, -1, -1)


def _value(kind: int, data: bytes) -> Value:
    if kind == 0:
        return None
    if kind == 7:
        return float(struct.unpack(">d", data)[0])
    if kind in (8, 9):
        return kind - 8
    if kind < 8:
        return int.from_bytes(data, signed=True)
    return data.decode("utf-8") if kind % 2 else data


def _logged_pages(path: Path, page_size: int) -> dict[int, bytes]:
    """Return the pages of a write-ahead log up to its last whole transaction: section 4."""
    try:
        data = path.read_bytes() if path.stat().st_size <= LARGEST_FILE_BYTES else b""
    except OSError:
        return {}
    if len(data) < LOG_HEADER_BYTES:
        return {}
    magic, _, size, _, *salts, first, second = struct.unpack(">8I", data[:LOG_HEADER_BYTES])
    order = LOG_MAGIC.get(magic)
    if order is None or size != page_size or _checksum(order, data[:24], 0, 0) != (first, second):
        return {}
    whole: dict[int, bytes] = {}
    open_pages: dict[int, bytes] = {}
    step = FRAME_HEADER_BYTES + page_size
    for at in range(LOG_HEADER_BYTES, len(data) - step + 1, step):
        number, commit, salt_1, salt_2, sum_1, sum_2 = struct.unpack(
            ">6I", data[at : at + FRAME_HEADER_BYTES]
        )
        page = data[at + FRAME_HEADER_BYTES : at + step]
        first, second = _checksum(order, data[at : at + 8] + page, first, second)
        if [salt_1, salt_2] != salts or (sum_1, sum_2) != (first, second):
            break
        open_pages[number] = page
        if commit:
            whole.update(open_pages)
            open_pages.clear()
    return whole


def _checksum(order: str, data: bytes, first: int, second: int) -> tuple[int, int]:
    for a, b in struct.iter_unpack(f"{order}II", data):
        first = first + a + second & 0xFFFFFFFF
        second = second + b + first & 0xFFFFFFFF
    return first, second
