"""Read takes back out of the files that an export wrote, JSON or CSV, into the records.

All of a file or nothing of it is taken in. A take that is in the records already is known by its uid and
left as it is, so that the same file can be read twice. A file may come from anywhere: it is read take by
take, and each is held to what a take can be (:mod:`trainer.records.take_codec`).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import BadNotation, BadRecords, StoreProblem, TrainerError
from trainer.files import read_whole
from trainer.judging.take import Tap
from trainer.practice.stored_take import StoredTake, summarised
from trainer.records import csv_cells
from trainer.records.export import CSV_FIELDS, PATTERN, PATTERN_TEXT, TAKES_CSV, TAP_COLUMNS, TAPS_CSV
from trainer.records.json_export import opened_export
from trainer.records.plain_fields import AGAIN, Fields
from trainer.records.store import Store
from trainer.records.take_codec import pattern_of, take_of, whole_of_cell
from trainer.records.take_text import read_uid
from trainer.records.tap_codec import MOST_TAPS, tap_of

LARGEST_CSV_BYTES = 256 << 20
_WANTED = tuple(field for field in CSV_FIELDS if not field.is_summary)
_WANTED_COLUMNS = (
    *(field.column or field.name for field in _WANTED if not field.is_new),
    PATTERN,
    PATTERN_TEXT,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What came of an import: takes that were new, and takes that were there already."""

    new: int
    known: int


def import_takes(path: Path, store: Store) -> Imported:
    """Take the takes of an exported file, or of a folder of CSV files, into the records.

    Raises:
        BadRecords: the file is none, or a take in it cannot be read; nothing of it is taken in.
        StoreProblem: the file cannot be read or the records not written.
    """
    seen = 0

    def counted() -> Iterator[StoredTake]:
        nonlocal seen
        for take in read_csv(path) if path.is_dir() else read_json(path):
            seen += 1
            yield take

    new = store.keep_all(counted())
    return Imported(new=new, known=seen - new)


def read_json(path: Path) -> Iterator[StoredTake]:
    """Give the takes of a JSON file.

    Raises:
        BadRecords: not such a file, of a newer version, or a take that cannot be read.
        StoreProblem: it cannot be read.
    """
    with _named(f"{path}"), opened_export(path) as export:
        patterns = {}
        for key, each in export.patterns.items():
            f = Fields(each)
            patterns[key] = pattern_of(f.text("name"), f.text("text"))
        takes = export.takes()
        number = 0
        while True:
            number += 1
            with _named(f"{path}: take {number}"):
                table = next(takes, None)
                if table is None:
                    return
                f = Fields(table)
                key = f.text("pattern")
                if key not in patterns:
                    f.fail("pattern", "name one of the file's patterns")
                take = take_of(table, patterns[key])
            yield take


def read_csv(folder: Path) -> Iterator[StoredTake]:
    """Give the takes of a folder with ``takes.csv`` and ``taps.csv``; they are judged again.

    Raises:
        BadRecords: a file is missing or holds what no take has.
        StoreProblem: a file cannot be read.
    """
    taps: dict[str, list[Tap]] = {}
    for line, row in _rows(folder / TAPS_CSV, TAP_COLUMNS):
        with _named(f"{folder / TAPS_CSV}:{line}"):
            of_take = taps.setdefault(read_uid(row["uid"]), [])
            if len(of_take) >= MOST_TAPS:
                raise BadRecords(f"found more than {MOST_TAPS} taps for one take", AGAIN)
            values = [
                whole_of_cell(row[name] or "0") for name in ("at_us", "string", "velocity", "within_us")
            ]
            of_take.append(tap_of((values[0], row["hand"], *values[1:])))
    for line, row in _rows(folder / TAKES_CSV, _WANTED_COLUMNS):
        with _named(f"{folder / TAKES_CSV}:{line}"):
            take = _take(row, tuple(taps.get(row["uid"], ())))
        yield take


def _take(row: Mapping[str, str], taps: tuple[Tap, ...]) -> StoredTake:
    columns = {field.column or field.name: field for field in _WANTED}
    table = {
        field.name: field.of_cell(csv_cells.read(row[column]))
        for column, field in columns.items()
        if column in row or not field.is_new
    }
    pattern = pattern_of(csv_cells.read(row[PATTERN]), csv_cells.read(row[PATTERN_TEXT]))
    unknown = {"seconds_played": 0.0, "asked": 0, "clean": 0, "mean_s": None, "spread_s": None, "rungs": ()}
    return summarised(take_of(table, pattern, taps=taps, **unknown))


def _rows(path: Path, columns: tuple[str, ...]) -> Iterator[tuple[int, Mapping[str, str]]]:
    """Give the lines of a CSV file as tables, with the number of the line each ends on."""
    with _named(f"{path}"):
        try:
            text = read_whole(path, LARGEST_CSV_BYTES).decode("utf-8-sig")
        except UnicodeDecodeError as err:
            raise BadRecords("the file is not UTF-8 text", AGAIN) from err
        except (OSError, ValueError) as err:
            raise cannot_be_read(path, err) from err
    lines = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    with _named(f"{path}"):
        try:
            there = lines.fieldnames or ()
        except csv.Error as err:
            raise BadRecords(f"this is no CSV ({err})", AGAIN) from err
        missing = [name for name in columns if name not in there]
        if missing:
            raise BadRecords(f"the column {missing[0]} is missing", AGAIN)
    while True:
        with _named(f"{path}:{lines.line_num + 1}"):
            try:
                row = next(lines, None)
            except csv.Error as err:
                raise BadRecords(f"this is no CSV ({err})", AGAIN) from err
            if row is not None and None in row.values():
                raise BadRecords("the line is too short", AGAIN)
        if row is None:
            return
        yield lines.line_num, row


def cannot_be_read(path: Path, err: Exception) -> StoreProblem:
    """Return the complaint about a file that the system does not give."""
    reason = err.strerror if isinstance(err, OSError) else err
    return StoreProblem(f"{path} cannot be read ({reason})", "check the name")


@contextmanager
def _named(where: str) -> Iterator[None]:
    """Let a problem inside say in which file and at which take it was met."""
    try:
        yield
    except (StoreProblem, GeneratorExit):
        raise
    except BadNotation as err:
        raise BadRecords(f"{where}: the pattern cannot be read: {err.problem}", err.remedy) from err
    except TrainerError as err:
        problem, remedy = getattr(err, "problem", str(err)), getattr(err, "remedy", AGAIN)
        if not problem.startswith(where):
            problem = f"{where}: {problem}"
        raise BadRecords(problem, remedy) from err
