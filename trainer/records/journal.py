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

from trainer.errors import BadRecords, StoreProblem, TrainerError
from trainer.judging.take import Tap
from trainer.music.notation import read_pattern, write_pattern
from trainer.music.timeline import Timeline
from trainer.practice.stored_take import StoredTake, reached, summarised
from trainer.records.packing import read_spans, write_spans
from trainer.records.store import Store
from trainer.records.take_table import Fields, is_whole, take_of, take_table, tap_of, tap_values

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

ENDING = ".running"
LARGEST_FILE_BYTES = 64 << 20  # a day of taps
PATIENCE_S = 2.0  # for the last lines at the end of a take
KEY = "pattern"


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
        table = take_table(replace(header, taps=()), KEY)
        pattern = [header.pattern.name, write_pattern(header.pattern)]
        path = folder / f"{header.uid}{ENDING}"
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            file = os.open(path, flags, 0o600)
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

    def ends(self, take: StoredTake) -> None:
        """Write down how the take has ended, and wait until all of it is written."""
        spans = write_spans(take.timeline)
        self._lines.put(("end", spans, take.passes, take.slots_asked, take.not_graded))
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

    takes: int = 0
    note: str = ""


def recover(folder: Path, store: Store) -> Recovered:
    """Take the takes that were never finished into the records.

    A torn last line is passed over. A file that cannot be read at all is renamed and left.
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
        except StoreProblem as problem:
            return Recovered(takes=kept, note=f"A take could not be saved: {problem}")
        except (TrainerError, OSError) as err:
            notes.append(f"The unfinished take in {path} cannot be read ({err}).")
            _put_aside(path)
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
    with path.open("rb+") as file:
        if not _lock(file.fileno()):
            raise _InUse
        data = file.read(LARGEST_FILE_BYTES + 1)
    if len(data) > LARGEST_FILE_BYTES:
        raise BadRecords(f"{path} is too large for a take", "remove it")
    # What stands after the last line end was being written when the program was killed.
    lines = data.split(b"\n")[:-1]
    return _take_of(lines) if lines else None


def _take_of(lines: Sequence[bytes]) -> StoredTake | None:
    first = _values(lines[0])
    if len(first) != 3 or first[0] != "take":
        raise BadRecords("the file does not begin with a take", "remove it")
    name, text = Fields({KEY: first[1]}).words(first[1])
    take = take_of(first[2], {KEY: read_pattern(text, name=name)})
    taps: list[Tap] = []
    ended = False
    for line in lines[1:]:
        try:
            what, *values = _values(line)
            if what == "tap":
                taps.append(tap_of(values))
            elif what == "tempo":
                take = replace(take, timeline=read_spans(str(*values)))
            elif what == "end":
                take, ended = _ended(take, values), True
        except TrainerError:
            break  # after a loss of power a line may be nonsense; what stands before it holds
    if not taps:
        return None
    take = replace(take, taps=tuple(taps))
    return summarised(take if ended else reached(take))


def _ended(take: StoredTake, values: Sequence[object]) -> StoredTake:
    spans, passes, slots_asked, not_graded = (*values, None, None, None, None)[:4]
    if not (is_whole(passes) and is_whole(slots_asked)):
        raise BadRecords("the end of the take cannot be read", "remove the file")
    return replace(
        take,
        timeline=read_spans(str(spans)),
        passes=passes,
        slots_asked=slots_asked,
        not_graded=str(not_graded),
    )


def _values(line: bytes) -> list[object]:
    try:
        values = json.loads(line)
    except (ValueError, RecursionError):
        values = None
    if not isinstance(values, list) or not values:
        raise BadRecords(f"found the line {line[:40]!r}", "remove the file")
    return values


def _put_aside(path: Path) -> None:
    try:
        path.replace(path.with_suffix(".unread"))
    except OSError:
        return  # it is said already that it cannot be read


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
