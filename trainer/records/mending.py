"""Open the file of records; of a damaged one save what can be read, say so, and keep the damaged file.

The damaged file gets a second name first (``takes.sqlite.damaged``), new records are written whole beside it,
and then they take its place; so at every moment the takes are in a file that this module looks into. When all
that can be read of it is in the new records its name ends in ``.salvaged``.
"""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from trainer.errors import DamagedRecords, StoreProblem
from trainer.practice.stored_take import StoredTake
from trainer.records import rows
from trainer.records.in_use import InUse, hold
from trainer.records.own_files import own_folder, tighten
from trainer.records.salvage import Salvaged, salvage
from trainer.records.schema import COMPANIONS, PATIENCE_S, connect, free_name, look_at, speaking
from trainer.records.tables import one_transaction
from trainer.records.take_text import clean_words

DAMAGED, SALVAGED = ".damaged", ".salvaged"
MOST_NAMED = 5  # lost takes in one sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """What became of damaged records.

    Attributes:
        saved: takes that are in the new records.
        lost: takes that could not be read: number and when they were begun, or an empty text.
        asides: where the damaged files are.
    """

    saved: int
    lost: Mapping[int, str] = field(default_factory=dict)
    asides: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A file of records that is open.

    Attributes:
        connection: to a file of the present version.
        held: the place among those who use the file.
        note: what had to be done first, in sentences, or an empty text.
        was_damaged: whether something of the records may be lost.
    """

    connection: sqlite3.Connection
    held: InUse
    note: str = ""
    was_damaged: bool = False


def open_file(path: Path, patience_s: float = PATIENCE_S) -> Opened:
    """Open the file of records, making it and its folder where there is none, mending it where it is damaged.

    Raises:
        DamagedRecords: it is damaged, and another program uses it, so that it cannot be mended now.
        StoreProblem: it cannot be opened or written, it is another program's, or of another version.
    """
    with suppress(DamagedRecords):
        look_at(path)  # before anything is changed, for one that is refused
    with speaking(path):
        own_folder(path.parent)
        held = _held(path, patience_s)
        try:
            return _opened(path, held, patience_s)
        except DamagedRecords:
            held.leave()
        except BaseException:
            held.leave()
            raise
    note = mended_words(mend(path, patience_s=patience_s))
    with speaking(path):
        held = _held(path, patience_s)
        try:
            ready = connect(path, patience_s)
        except BaseException:
            held.leave()
            raise
    return Opened(connection=ready.connection, held=held, note=note, was_damaged=True)


def mend(path: Path, *, patience_s: float = PATIENCE_S) -> Mended:
    """Put damaged records aside and begin new ones with every take that can be read of them.

    What lies beside them from earlier damage is looked through too. Nobody may have the records open.

    Raises:
        DamagedRecords: another program uses them.
        StoreProblem: the folder cannot be written; all is as it was.
    """
    with speaking(path):
        alone = hold(path, alone=True, patience_s=patience_s)
    if alone is None:
        raise DamagedRecords(
            f"the records in {path} are damaged, and cannot be mended while Thumbfall is open",
            "close it, and then: thumbfall records --check",
        )
    try:
        with speaking(path):
            return _mend(path)
    finally:
        alone.leave()


def take_back(path: Path, connection: sqlite3.Connection) -> tuple[Mended, ...]:
    """Look through damaged files that lie beside whole records, and take in what these do not hold.

    Raises:
        StoreProblem: the records cannot be written.
    """
    done = []
    for aside in put_aside(path):
        with speaking(path):
            found = salvage(aside)
            saved = _keep(connection, found.takes)
            done.append(Mended(saved=saved, lost=found.lost, asides=(_looked_through(aside),)))
    return tuple(done)


def put_aside(path: Path) -> tuple[Path, ...]:
    """Return the damaged files beside the records that nobody has looked through yet."""
    return tuple(sorted(path.parent.glob(f"{path.name}*{DAMAGED}")))


def mended_words(done: Mended) -> str:
    """Return what is said about damaged records: what was saved, what was lost, and where the rest lies."""
    if not done.asides:
        return ""
    lost = lost_words(done.lost)
    rest = f"{lost} could not be read" if lost else "none known to be lost"
    saved = f"{count_words(done.saved)} saved, {rest}" if done.saved or lost else "no take could be read"
    where = ", ".join(str(each) for each in done.asides)
    return f"The records were damaged: {saved}. The damaged file is {where}."


def count_words(n: int) -> str:
    """Return a number of takes in words."""
    return "1 take" if n == 1 else f"{n} takes"


def lost_words(lost: Mapping[int, str]) -> str:
    """Return which takes are lost, the first of them by number and day; an empty text for none."""
    if not lost:
        return ""
    named = [
        f"{number} of {clean_words(begun[:10])}" if begun else f"{number}"
        for number, begun in list(lost.items())[:MOST_NAMED]
    ]
    more = ", ..." if len(lost) > MOST_NAMED else ""
    return f"{count_words(len(lost))} ({', '.join(named)}{more})"


def _held(path: Path, patience_s: float) -> InUse:
    held = hold(path, alone=False, patience_s=patience_s)
    if held is None:
        raise StoreProblem(
            f"another program is just moving or mending the records in {path}", "try again in a moment"
        )
    return held


def _opened(path: Path, held: InUse, patience_s: float) -> Opened:
    there = path.exists()
    if not there and put_aside(path):
        raise DamagedRecords(f"the records in {path} are gone", "they are mended now")
    was_empty = there and not path.stat().st_size
    ready = connect(path, patience_s)
    notes = []
    if was_empty:
        notes.append(f"The file of the records, {path}, was there but empty; new ones are begun.")
    if ready.unread:
        notes.append(
            f"{count_words(ready.unread)} of the older version in {path} could not be read; "
            f"the file as it was is {ready.copy}."
        )
    return Opened(connection=ready.connection, held=held, note=" ".join(notes), was_damaged=bool(notes))


def _mend(path: Path) -> Mended:
    found = [salvage(each) for each in (*((path,) if path.exists() else ()), *put_aside(path))]
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(8)}.new")
    try:
        connection = connect(fresh).connection
        try:
            saved = sum(_keep(connection, each.takes) for each in found)
            connection.execute("PRAGMA journal_mode = DELETE")  # so that all of it is in the one file
        finally:
            connection.close()
        if path.exists():
            _give_second_name(path)
        for companion in COMPANIONS[1:]:
            # A log that belongs to the damaged file must not be taken for the new one's.
            path.with_name(path.name + companion).unlink(missing_ok=True)
        fresh.replace(path)
        tighten(path)
    finally:
        for companion in COMPANIONS:
            with suppress(OSError):
                fresh.with_name(fresh.name + companion).unlink(missing_ok=True)
    asides = tuple(_looked_through(each) for each in put_aside(path))
    return Mended(saved=saved, lost=_lost(found), asides=asides)


def _keep(connection: sqlite3.Connection, takes: Iterable[StoredTake]) -> int:
    with one_transaction(connection):
        return sum(rows.insert_take(connection, take, take.id)[1] for take in takes)


def _lost(found: Iterable[Salvaged]) -> dict[int, str]:
    saved: set[int | None] = set()
    lost: dict[int, str] = {}
    for each in found:
        saved.update(take.id for take in each.takes)
        lost.update(each.lost)
    return {number: begun for number, begun in lost.items() if number not in saved}


def _give_second_name(path: Path) -> None:
    aside = free_name(path.with_name(path.name + DAMAGED))
    for companion in reversed(COMPANIONS):  # the file itself last: with its name the rest is found
        each, other = path.with_name(path.name + companion), aside.with_name(aside.name + companion)
        if companion == "-shm" or not each.exists():
            continue
        try:
            os.link(each, other)
        except OSError:
            shutil.copy2(each, other)


def _looked_through(aside: Path) -> Path:
    """Rename a damaged file, and what belongs to it, as one of which all that can be read was taken."""
    done = free_name(aside.with_suffix(SALVAGED))
    for companion in COMPANIONS:
        with suppress(OSError):
            aside.with_name(aside.name + companion).replace(done.with_name(done.name + companion))
    return done if done.exists() else aside
