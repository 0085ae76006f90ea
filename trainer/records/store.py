"""Keep every take for good, in one SQLite file of the user's; answer what progress asks.

One transaction a take, written through to the disk before :meth:`Store.keep` returns. Used from the thread
that opened it.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from trainer.errors import BadSettings, DamagedRecords, TrainerError
from trainer.files import data_folder
from trainer.music.pattern import Pattern
from trainer.practice.course import Rung
from trainer.practice.stored_take import StoredTake
from trainer.records import progress, rows
from trainer.records.backups import back_up
from trainer.records.mending import Mended, Opened, open_file, take_back
from trainer.records.schema import COMPANIONS, PATIENCE_S, damaged, speaking
from trainer.records.tables import one_transaction
from trainer.records.take_codec import pattern_of

FILE_NAME = "takes.sqlite"
FOLDER_NAMED_BY = "THUMBFALL_RECORDS"  # a variable of the environment
SAME_TEMPO = 0.03  # listeners hear no other tempo below some 3 %: Drake & Botte 1993


def records_path(chosen: str = "") -> Path:
    """Return the file of takes, in the folder that the environment names, else in the chosen one.

    Args:
        chosen: folder of the settings; empty for the user's data folder.
    """
    folder = os.environ.get(FOLDER_NAMED_BY, "") or chosen
    home = Path(folder).expanduser() if folder else data_folder()
    return home / FILE_NAME


class Store:
    """The records; open with :meth:`open`.

    Every method raises StoreProblem with one sentence when the disk, the folder or the file does not allow
    what is asked; what was kept before stays kept.

    Attributes:
        note: what had to be done on opening, in sentences, or an empty text.
        was_damaged: whether that was because of damage.
    """

    def __init__(self, opened: Opened, path: Path) -> None:
        self.path = path
        self.note = opened.note
        self.was_damaged = opened.was_damaged
        self._connection = opened.connection
        self._held = opened.held
        self._file = _identity(path)
        self._patterns: dict[int, Pattern] = {}

    @classmethod
    def open(cls, path: Path, patience_s: float = PATIENCE_S) -> Store:
        """Open the records in a file, new ones where there is none; damaged ones are mended first.

        Args:
            patience_s: how long another program that is just writing is waited for.

        Raises:
            StoreProblem: not to be opened or written, another program's, or of another version.
        """
        return cls(open_file(path, patience_s), path)

    @property
    def is_in_place(self) -> bool:
        """Whether the file that is open is still the one under its name, neither moved nor deleted."""
        return self._file is not None and self._file == _identity(self.path)

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()
        self._held.leave()

    # Takes

    def keep(self, take: StoredTake) -> int:
        """Keep a take and return its number; one that is kept already is left as it is."""
        with speaking(self.path), one_transaction(self._connection):
            return rows.insert_take(self._connection, take)[0]

    def keep_all(self, takes: Iterable[StoredTake]) -> int:
        """Keep takes together or not at all; return how many of them were new."""
        with speaking(self.path), one_transaction(self._connection):
            return sum(rows.insert_take(self._connection, take)[1] for take in takes)

    def take(self, take_id: int) -> StoredTake:
        """Return a take by its number.

        Raises:
            BadSettings: there is none of this number.
            DamagedRecords: it is damaged.
        """
        with speaking(self.path):
            row = rows.select_take(self._connection, take_id)
        if row is None:
            raise BadSettings(f"there is no take {take_id}", "see the numbers with: thumbfall history")
        return rows.stored_take(row, self._pattern)

    def takes(
        self,
        *,
        player: str | None = None,
        pattern: str | None = None,
        limit: int | None = None,
        before_id: int | None = None,
    ) -> tuple[rows.TakeRow, ...]:
        """Return takes without their taps, the newest first.

        Args:
            player, pattern: only theirs; None for all.
            limit: at most so many.
            before_id: only those begun before this one, to go on where a page has ended.
        """
        with speaking(self.path):
            found = self._connection.execute(
                f"SELECT {rows.LISTED_COLUMNS} FROM {rows.NAMED_TAKES}"
                " WHERE (?1 IS NULL OR players.name = ?1) AND (?2 IS NULL OR patterns.name = ?2)"
                " AND (?3 IS NULL OR (begun, takes.id) < (SELECT begun, id FROM takes WHERE id = ?3))"
                " ORDER BY begun DESC, takes.id DESC LIMIT ?4",
                (player, pattern, before_id, -1 if limit is None else limit),
            ).fetchall()
        return tuple(rows.take_row(row) for row in found)

    def each_take(
        self,
        *,
        player: str | None = None,
        pattern: str | None = None,
        day: int | None = None,
        unread: list[int] | None = None,
    ) -> Iterator[StoredTake]:
        """Give takes whole, one at a time, the oldest first.

        Args:
            day: only those of this day, as a proleptic ordinal.
            unread: takes the numbers of those that are damaged; None to raise at the first.
        """
        with speaking(self.path):
            ids = self._connection.execute(
                f"SELECT takes.id FROM {rows.NAMED_TAKES}"
                " WHERE (?1 IS NULL OR players.name = ?1) AND (?2 IS NULL OR patterns.name = ?2)"
                " AND (?3 IS NULL OR day = ?3) ORDER BY begun, takes.id",
                (player, pattern, day),
            ).fetchall()
        for (take_id,) in ids:
            try:
                take = self.take(take_id)
            except TrainerError:
                if unread is None:
                    raise
                unread.append(take_id)
                continue
            yield take

    def pattern(self, name: str) -> Pattern:
        """Return a pattern as it was when it was played last, also when its file is gone.

        Raises:
            BadSettings: it was never played.
        """
        with speaking(self.path):
            row = self._connection.execute(
                "SELECT pattern_id FROM takes WHERE pattern_id IN (SELECT id FROM patterns WHERE name = ?)"
                " ORDER BY begun DESC LIMIT 1",
                (name,),
            ).fetchone()
        if row is None:
            raise BadSettings(f'"{name}" was never played', "see the names with: thumbfall history")
        return self._pattern(row[0])

    def count(self) -> int:
        """Return how many takes are kept."""
        with speaking(self.path):
            return int(self._connection.execute("SELECT count(*) FROM takes").fetchone()[0])

    def forget_take(self, take_id: int) -> StoredTake:
        """Take a take out of the records and return it, for :meth:`restore_take`.

        Raises:
            BadSettings: there is none of this number.
        """
        take = self.take(take_id)
        with speaking(self.path), one_transaction(self._connection):
            self._connection.execute("DELETE FROM takes WHERE id = ?", (take_id,))
            self._tidy()
        return take

    def restore_take(self, take: StoredTake) -> int:
        """Put back a take that was taken out, under its old number."""
        with speaking(self.path), one_transaction(self._connection):
            return rows.insert_take(self._connection, take, take.id)[0]

    def count_by_word(self, uid: str, why: str) -> None:
        """Let the disturbed take of a uid count by the teacher's word; nothing happens where there is none.

        Args:
            why: what disturbed it, which stays on it as a mark; empty takes the word back.
        """
        with speaking(self.path):
            found = self._connection.execute("SELECT id FROM takes WHERE uid = ?", (uid,)).fetchone()
        if found is None:
            return
        take = replace(self.take(found[0]), by_word=why)
        with speaking(self.path), one_transaction(self._connection):
            rows.mark_take(self._connection, take)

    # Players

    def players(self) -> tuple[str, ...]:
        """Return the names that have takes, in alphabetical order; takes without a name have none."""
        with speaking(self.path):
            found = self._connection.execute("SELECT name FROM players WHERE name <> ''").fetchall()
        return tuple(sorted((name for (name,) in found), key=lambda name: (name.casefold(), name)))

    def forget_player(self, name: str, *, with_takes: bool) -> None:
        """Take a name out of the records for good, with all its takes or leaving them without a name.

        Raises:
            BadSettings: nobody has this name.
        """
        with speaking(self.path):
            with one_transaction(self._connection):
                who = self._connection.execute("SELECT id FROM players WHERE name = ?", (name,)).fetchone()
                self._must_be_somebody(0 if who is None else 1, name)
                if with_takes:
                    self._connection.execute("DELETE FROM takes WHERE player_id = ?", who)
                else:
                    nobody = rows.player_id(self._connection, "")
                    for (take_id,) in self._connection.execute(
                        "SELECT id FROM takes WHERE player_id = ?", who
                    ).fetchall():
                        rows.give_to(self._connection, take_id, nobody)
                self._tidy()
            # Or the name would stand in the write-ahead log until that is used again.
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    # Progress: see trainer.records.progress for what each answer holds

    def clean_rungs(self, player: str) -> tuple[Rung, ...]:
        """Return what ``course.standings`` asks for: the best of each visit, in order of time."""
        with speaking(self.path):
            return progress.clean_rungs(self._connection, player)

    def fastest_clean_by_day(self, player: str, pattern: str) -> tuple[progress.DayTempo, ...]:
        """Return (day, bpm) of each day with a clean tempo."""
        with speaking(self.path):
            return progress.fastest_clean_by_day(self._connection, player, pattern)

    def spread_by_day(
        self, player: str, pattern: str, bpm: Fraction, within: float = SAME_TEMPO
    ) -> tuple[progress.DaySpread, ...]:
        """Return (day, spread_s, taps) of each day that was played at about this tempo."""
        with speaking(self.path):
            return progress.spread_by_day(self._connection, player, pattern, bpm, within=within)

    def minutes_by_day(self, player: str, since_day: int) -> tuple[progress.DayMinutes, ...]:
        """Return (day, minutes) of each day played, from one on."""
        with speaking(self.path):
            return progress.minutes_by_day(self._connection, player, since_day)

    def patterns_played(self, player: str) -> tuple[progress.PatternPlayed, ...]:
        """Return what a player has done with each pattern, the latest played first."""
        with speaking(self.path):
            return progress.patterns_played(self._connection, player)

    # The file

    def backup(self, path: Path) -> Path | None:
        """Copy the records into another file, whole, also while they are written to.

        Returns:
            Where an older copy of that name is now; None when there was none.

        Raises:
            BadSettings: that file is the records themselves, or no copy of records.
        """
        if path.exists() and path.resolve() == self.path.resolve():
            raise BadSettings(f"{path} is the file of the records itself", "name another file")
        with speaking(path):
            return back_up(self._connection, path)

    def faults(self) -> tuple[str, ...]:
        """Return what is damaged, in a few words each; empty when all is well. Reads all of the file."""
        try:
            found = [text for (text,) in self._connection.execute("PRAGMA integrity_check") if text != "ok"]
            found += [
                f"a row of {table} belongs to nothing"
                for table, *_ in self._connection.execute("PRAGMA foreign_key_check")
            ]
            with speaking(self.path):
                found += self._bad_takes()
        except (sqlite3.DatabaseError, UnicodeDecodeError, DamagedRecords) as err:
            return (str(err),)
        return tuple(found)

    def take_back(self) -> tuple[Mended, ...]:
        """Look through damaged files that lie beside the records; take in what the records do not hold."""
        return take_back(self.path, self._connection)

    def size_bytes(self) -> int:
        """Return how much room the records take on the disk."""
        files = [self.path.with_name(self.path.name + companion) for companion in COMPANIONS]
        return sum(file.stat().st_size for file in files if file.exists())

    # Inside

    def _bad_takes(self) -> Iterator[str]:
        for (take_id,) in self._connection.execute("SELECT id FROM takes ORDER BY id").fetchall():
            try:
                if rows.columns_differ(self._connection, self.take(take_id)):
                    yield f"take {take_id} is listed otherwise than it was played"
            except TrainerError as problem:
                yield str(problem)

    def _tidy(self) -> None:
        """Take out names and texts that no take uses any more."""
        self._connection.execute("DELETE FROM players WHERE id NOT IN (SELECT player_id FROM takes)")
        self._connection.execute("DELETE FROM patterns WHERE id NOT IN (SELECT pattern_id FROM takes)")
        self._patterns.clear()

    def _must_be_somebody(self, found: int, name: str) -> None:
        if not found:
            raise BadSettings(f'there is no player called "{name}"', "see the names with: thumbfall history")

    def _pattern(self, pattern_id: int) -> Pattern:
        if pattern_id not in self._patterns:
            with speaking(self.path):
                row = self._connection.execute(
                    "SELECT name, text FROM patterns WHERE id = ?", (pattern_id,)
                ).fetchone()
            if row is None:
                raise damaged(self.path)
            self._patterns[pattern_id] = pattern_of(*row)
        return self._patterns[pattern_id]


def _identity(path: Path) -> tuple[int, int] | None:
    """Return what tells a file from another under the same name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
