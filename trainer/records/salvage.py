"""Save the takes that can still be read of a damaged file of records, page by page.

Works on files of this version and of version 0.2.0. Nothing is changed here: what is found is given back.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

from trainer.errors import TrainerError
from trainer.music.pattern import Pattern
from trainer.practice.stored_take import StoredTake
from trainer.records import rows, version_2
from trainer.records.sqlite_pages import PageRow, page_sizes, rows_on_pages
from trainer.records.take_codec import pattern_of, unpack
from trainer.records.take_text import text_hash

_TAKE_WIDTH = 1 + len(rows.BEFORE_BODY) + len(rows.COLUMNS) + 1
_HASH = re.compile(r"[0-9a-f]{32}")  # the other indexes by a text hold such, or times
_TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T")


@dataclass(slots=True)
class _Pieces:
    """What stands on the pages of a file, sorted by what it is; the numbers are those of the tables."""

    takes: dict[int, tuple[object, ...]] = field(default_factory=dict)
    old_takes: dict[int, tuple[object, ...]] = field(default_factory=dict)
    old_taps: dict[int, bytes] = field(default_factory=dict)
    patterns: dict[int, tuple[str, str]] = field(default_factory=dict)
    players: dict[int, str] = field(default_factory=dict)
    named: dict[int, str] = field(default_factory=dict)  # the same as players, from their index
    begun: dict[int, str] = field(default_factory=dict)  # every take that the index by uid knows


@dataclass(frozen=True, slots=True, kw_only=True)
class Salvaged:
    """What a damaged file still holds.

    Attributes:
        takes: what can be read, with their numbers, in order.
        lost: of those of which no more than a trace is left, by number, when they were begun, or an empty
            text.
    """

    takes: tuple[StoredTake, ...] = ()
    lost: Mapping[int, str] = field(default_factory=dict)


def salvage(path: Path) -> Salvaged:
    """Return every take that can be read of a damaged file.

    Raises:
        OSError: the file cannot be read at all.
    """
    best = Salvaged()
    for size in page_sizes(path):
        found = _salvaged(_pieces(rows_on_pages(path, size)))
        if len(found.takes) + len(found.lost) > len(best.takes) + len(best.lost):
            best = found
        if best.takes:
            break
    return best


def holds_takes(path: Path) -> bool:
    """Return whether a file holds takes of ours, whatever its header says."""
    with suppress(OSError):
        return bool(salvage(path).takes)
    return False


def _pieces(found: Iterable[PageRow]) -> _Pieces:
    pieces = _Pieces()
    for row in found:
        if row.number is None:
            _sort_index(row.values, pieces)
        else:
            _sort_table(row.number, row.values, pieces)
    return pieces


def _sort_table(number: int, values: tuple[object, ...], pieces: _Pieces) -> None:
    match values:
        case (None, bytes(packed)):
            pieces.old_taps[number] = packed
        case (None, str(name)):
            pieces.players[number] = name
        case (None, str(), str(name), str(), str(text)):
            pieces.patterns[number] = (name, text)
        case _ if len(values) == _TAKE_WIDTH and isinstance(values[-1], bytes):
            pieces.takes[number] = values
        case _ if len(values) == len(version_2.TAKE_COLUMNS):
            pieces.old_takes[number] = values


def _sort_index(values: tuple[object, ...], pieces: _Pieces) -> None:
    match values:
        case (str(known), str(name), str(), str(text), int(number)) if text_hash(name, text) == known:
            pieces.patterns.setdefault(number, (name, text))
        case (str(), str(begun), int(number)) if _TIME.match(begun):
            pieces.begun[number] = begun
        case (str(name), int(number)) if not _TIME.match(name) and not _HASH.fullmatch(name):
            pieces.named[number] = name


def _salvaged(pieces: _Pieces) -> Salvaged:
    patterns = dict(_patterns(pieces.patterns))
    players = _players(pieces)
    takes: dict[int, StoredTake] = {}
    for number in sorted(pieces.takes.keys() | pieces.old_takes.keys()):
        with suppress(TrainerError):
            take = _take(number, pieces, players, patterns)
            if take is not None:
                takes[number] = take
    known = pieces.takes.keys() | pieces.old_takes.keys() | pieces.old_taps.keys() | pieces.begun.keys()
    lost = {number: pieces.begun.get(number, "") for number in sorted(known - takes.keys())}
    return Salvaged(takes=tuple(takes.values()), lost=lost)


def _patterns(texts: Mapping[int, tuple[str, str]]) -> Iterator[tuple[int, Pattern]]:
    for number, (name, text) in texts.items():
        with suppress(TrainerError):
            yield number, pattern_of(name, text)


def _players(pieces: _Pieces) -> dict[int, str]:
    """Return the players by number; one whose name is lost has the number for a name."""
    wanted = (row[1] for row in (*pieces.takes.values(), *pieces.old_takes.values()))
    return {
        number: pieces.players.get(number, pieces.named.get(number, f"player {number}"))
        for number in wanted
        if isinstance(number, int)
    }


def _take(
    number: int, pieces: _Pieces, players: Mapping[int, str], patterns: Mapping[int, Pattern]
) -> StoredTake | None:
    """Return a take of which enough is left; None where its pattern, its taps or its checksum is not.

    Raises:
        TrainerError: it holds what no take has.
    """
    if number in pieces.takes:
        _, who, what, checksum, *_, body = pieces.takes[number]
        if not isinstance(who, int) or not isinstance(what, int) or not isinstance(body, bytes):
            return None
        if checksum != rows.sum_of(who, what, body) or what not in patterns:
            return None
        return replace(unpack(body, players[who], patterns[what]), id=number)
    row = (number, *pieces.old_takes[number][1:])
    who, what = row[1], row[2]
    if not isinstance(who, int) or not isinstance(what, int) or what not in patterns:
        return None
    packed = pieces.old_taps.get(number)
    return None if packed is None else version_2.stored_take(row, packed, players[who], patterns[what])
