"""Write a take down while it is played, so that a program that is killed loses nothing of it.

One file for each take that runs: a first line with all that is known when the drill begins, then a line for
each tap, each JSON. A thread of its own writes the lines, because a busy disk may hold up whoever writes for
longer than a tap may wait; what it has written outlives the program, though not a loss of power. The file
goes when the take is in the records. The next start takes in what an earlier one has left behind.

A file is locked while its program lives, so that a second window does not take the first one's take for lost.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from queue import SimpleQueue
from threading import Thread

from trainer.errors import BadRecords, DamagedRecords, StoreProblem, TrainerError
from trainer.files import OWN, make_own_folder
from trainer.judging.spared import Span
from trainer.judging.take import Tap
from trainer.music.bounded_json import parse_json
from trainer.music.notation import write_pattern
from trainer.music.timeline import Timeline
from trainer.practice.stored_take import StoredTake, reached, summarised
from trainer.records.plain_fields import is_whole, words_in
from trainer.records.store import Store
from trainer.records.take_codec import FIELDS, checked_take, pattern_of, take_of, take_table
from trainer.records.take_text import clean_text, clean_words, read_spans, spans_of_words, write_spans
from trainer.records.tap_codec import spans_of, spans_table, tap_of, tap_values

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

ENDING = ".running"
LARGEST_FILE_BYTES = 64 << 20  # a day of taps
LONGEST_LINE = 1 << 20  # the first and the last hold all that a take is but its taps
PATIENCE_S = 2.0  # for the last lines at the end of a take
_BUT_TAPS = tuple(field for field in FIELDS if field.name != "taps")
_UNREADABLE = (TrainerError, OSError, ArithmeticError, LookupError, TypeError, ValueError, MemoryError)


def journal_folder(records: Path) -> Path:
    """Return the folder of the takes that run, beside the file of records."""
    return records.with_name("running")


class Journal:
    """The file of one take that runs; every method is called from one thread and returns at once.

    Attributes:
        problem: why the file could not be written, or an empty text.
    """

    def __init__(self, path: Path, file: int) -> None:
        self.path = path
        self.problem = ""
        self._file = file
        self._lines: SimpleQueue[Sequence[object] | None] = SimpleQueue()
        self._thread = Thread(target=self._write, name="take journal", daemon=True)
        self._thread.start()

    @classmethod
    def begin(cls, folder: Path, header: StoredTake) -> Journal:
        """Begin the file of a take; ``header`` holds what is known of it, and its ``uid``.

        Raises:
            StoreProblem: the folder cannot be written.
        """
        table = take_table(replace(header, taps=()))
        pattern = [clean_words(header.pattern.name), write_pattern(header.pattern)]
        path = folder / f"{header.uid}{ENDING}"
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        try:
            make_own_folder(folder)
            file = os.open(path, flags, OWN)
        except OSError as err:
            raise StoreProblem(
                f"the take cannot be written down in {folder} while it is played ({err.strerror})",
                "mend the folder; until then a take is kept only when it has ended",
            ) from err
        _lock(file)
        journal = cls(path, file)
        journal._append(("take", pattern, table))  # nothing is being played yet, so it may take its time
        return journal

    def tap(self, tap: Tap) -> None:
        """Write down a tap."""
        self._lines.put(("tap", tap))

    def tempo(self, timeline: Timeline) -> None:
        """Write down that the tempo will change."""
        self._lines.put(("tempo", write_spans(timeline)))

    def spared(self, spans: Sequence[Span]) -> None:
        """Write down where the sound has stalled until now."""
        self._lines.put(("spared", spans_table(spans)))

    def ends(self, take: StoredTake) -> None:
        """Write down how the take has ended, and wait until all of it is written."""
        self._lines.put(("end", take_table(take, _BUT_TAPS)))
        self._lines.put(None)
        self._thread.join(PATIENCE_S)

    def done(self) -> None:
        """Remove the file: the take is in the records, or nobody wants it."""
        self.leave()
        try:
            self.path.unlink()
        except OSError as err:
            self.problem = str(err.strerror)  # it will be found again, and known by its uid

    def leave(self) -> None:
        """Close the file and leave it for the next start."""
        self._lines.put(None)
        self._thread.join(PATIENCE_S)
        if self._file >= 0:
            os.close(self._file)
            self._file = -1

    def _write(self) -> None:
        while (line := self._lines.get()) is not None:
            self._append(("tap", *tap_values(line[1])) if isinstance(line[1], Tap) else line)

    def _append(self, values: Sequence[object]) -> None:
        data = json.dumps(values, ensure_ascii=True).encode() + b"\n"
        try:
            while data and not self.problem:
                data = data[os.write(self._file, data) :]
        except OSError as err:
            self.problem = str(err.strerror)  # the rest is not tried: a hole would be worse than an end


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovered:
    """What an earlier run has left behind.

    Attributes:
        takes: how many takes were taken into the records.
        note: what to tell the player; empty when there was nothing.
    """

    takes: int
    note: str


def recover(folder: Path, store: Store) -> Recovered:
    """Take the takes that were never finished into the records.

    A torn last line is passed over. A file that cannot be read, for whatever reason, is renamed, left and
    said; it never keeps the others from being taken in, nor the program from starting.

    Raises:
        DamagedRecords: the records are.
    """
    kept, notes = 0, []
    for path in sorted(folder.glob(f"*{ENDING}")) if folder.is_dir() else ():
        try:
            take = _left_behind(path)
            if take is not None:
                store.keep(take)
                kept += 1
            path.unlink()
        except _InUse:
            continue
        except DamagedRecords:
            raise  # they are mended first
        except StoreProblem as problem:
            return Recovered(takes=kept, note=f"A take could not be saved: {problem}")
        except _UNREADABLE as err:
            aside = _put_aside(path)
            why = str(err) if isinstance(err, TrainerError) else "it is damaged"
            notes.append(f"An unfinished take cannot be read ({clean_words(why)}); it lies in {aside}.")
    if kept:
        what = "A take that was broken off was" if kept == 1 else f"{kept} takes that were broken off were"
        notes.insert(0, f"{what} saved.")
    return Recovered(takes=kept, note=" ".join(notes))


class _InUse(Exception):
    """The file belongs to a program that is running."""


def _left_behind(path: Path) -> StoredTake | None:
    """Return the take of a file; None when nothing was tapped yet.

    Raises:
        _InUse: its program is still running.
        TrainerError: its first line is whole but no take.
        OSError: it cannot be read.
    """
    # A pipe in its place would be waited for without O_NONBLOCK.
    flags = os.O_RDWR | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags), "rb") as file:
        if not _lock(file.fileno()):
            raise _InUse
        data = file.read(LARGEST_FILE_BYTES + 1)
    if len(data) > LARGEST_FILE_BYTES:
        raise BadRecords("it is too large for a take", "remove it")
    # What stands after the last line end was being written when the program was killed.
    lines = data.split(b"\n")[:-1]
    return _take_of(lines) if lines else None


def _take_of(lines: Sequence[bytes]) -> StoredTake | None:
    first = _values(lines[0])
    if len(first) != 3 or first[0] != "take":
        raise BadRecords("the file does not begin with a take", "remove it")
    named = words_in(first[1])
    if len(named) != 2:
        raise BadRecords("the file does not name its pattern", "remove it")
    take = take_of(first[2], pattern_of(*named))
    taps: list[Tap] = []
    ended: StoredTake | None = None
    for line in lines[1:]:
        try:
            what, *values = _values(line)
            if what == "tap":
                taps.append(tap_of(values))
            elif what == "tempo":
                take = replace(take, timeline=_timeline(values))
            elif what == "spared":
                take = replace(take, spared=spans_of(values[0] if values else None))
            elif what == "end":
                ended = _ended(take, values)
        except TrainerError:
            break  # after a loss of power a line may be nonsense; what stands before it holds
    if not taps:
        return None
    if ended is None:
        return summarised(checked_take(reached(replace(take, taps=tuple(taps)))))
    return summarised(replace(ended, taps=tuple(taps)))


def _timeline(values: Sequence[object]) -> Timeline:
    match values:
        case [str(words)]:  # of version 0.2.0
            return read_spans(spans_of_words(words))
        case [list(spans)]:
            return read_spans([words_in(span) for span in spans])
    raise BadRecords("a change of tempo cannot be read", "remove the file")


def _ended(take: StoredTake, values: Sequence[object]) -> StoredTake:
    match values:
        case [dict(table)]:
            return take_of(table, take.pattern, taps=())
        case [str(spans), passes, slots_asked, str(not_graded)]:  # of version 0.2.0
            table = take_table(replace(take, taps=()))
            table["tempi"] = spans_of_words(spans)
            table["not_graded"] = not_graded
            if is_whole(passes) and is_whole(slots_asked):
                table["passes"], table["slots_asked"] = passes, slots_asked
                return take_of(table, take.pattern)
    raise BadRecords("the end of the take cannot be read", "remove the file")


def _values(line: bytes) -> list[object]:
    try:
        values = parse_json(line) if len(line) <= LONGEST_LINE else None
    except ValueError:
        values = None
    if not isinstance(values, list) or not values:
        raise BadRecords(f"found the line {line[:40]!r}", "remove the file")
    return values


def _put_aside(path: Path) -> str:
    """Rename a file that cannot be read, and return where it is in words."""
    aside = path.with_suffix(".unread")
    number = 1
    while os.path.lexists(aside):
        number += 1
        aside = path.with_suffix(f".unread-{number}")
    try:
        path.replace(aside)
    except OSError:
        aside = path
    return clean_text(str(aside))


def _lock(file: int) -> bool:
    """Lock an open file for as long as it is open; return whether nobody else had."""
    try:
        if sys.platform == "win32":
            # Far behind the end, because a locked byte can be neither read nor written by others.
            os.lseek(file, 1 << 30, os.SEEK_SET)
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
            os.lseek(file, 0, os.SEEK_SET)
        else:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
