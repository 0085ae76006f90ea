"""Read takes back out of the files that an export wrote, JSON or CSV, into the records.

All of a file or nothing of it is taken in. A take that is in the records already is known by its uid and
left as it is, so that the same file can be read twice.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from trainer.errors import BadNotation, BadRecords, StoreProblem, TrainerError
from trainer.judging.pocket import Pocket
from trainer.judging.take import Tap
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.practice.stored_take import StoredTake, summarised
from trainer.records.export import FORMAT, TAKE_COLUMNS, TAKES_CSV, TAP_COLUMNS, TAPS_CSV, VERSION
from trainer.records.packing import checked_tap, clean_name, read_feel, read_spans, utc_moment
from trainer.records.store import Store
from trainer.records.take_table import Fields, checked_take, take_of

LARGEST_FILE_BYTES = 1 << 30


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
    with _named(f"{path}"):
        f = Fields(_json(path))
        if f.text("format") != FORMAT:
            f.fail("format", f'name a file whose format is "{FORMAT}"')
        if f.whole("version") > VERSION:
            f.fail("version", "bring Thumbfall up to date")
        table = f.value("patterns")
        patterns = {
            key: _pattern(Fields(each)) for key, each in (table if isinstance(table, dict) else {}).items()
        }
        takes = f.rows("takes")
    for number, each in enumerate(takes, start=1):
        with _named(f"{path}: take {number}"):
            take = take_of(each, patterns)
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
            numbers = [
                _whole(row[name] or "0", name) for name in ("at_us", "string", "velocity", "within_us")
            ]
            tap = checked_tap(numbers[0], row["hand"], *numbers[1:])
        taps.setdefault(row["uid"], []).append(tap)
    for line, row in _rows(folder / TAKES_CSV, TAKE_COLUMNS):
        with _named(f"{folder / TAKES_CSV}:{line}"):
            take = summarised(checked_take(_take(row, tuple(taps.get(row["uid"], ())))))
        yield take


def _take(row: Mapping[str, str], taps: tuple[Tap, ...]) -> StoredTake:
    utc_moment(row["begun_utc"])
    flags = {name: _whole(row[name], name) == 1 for name in ("click_off", "knows_left", "simulated")}
    return StoredTake(
        uid=row["uid"],
        player=clean_name(row["player"]),
        begun=row["begun_utc"],
        day=_day(row["day"]),
        pattern=read_pattern(row["pattern_text"], name=row["pattern"]),
        timeline=read_spans(row["tempi"]),
        passes=_whole(row["passes"], "passes"),
        slots_asked=_whole(row["slots_asked"], "slots_asked"),
        feel=read_feel(row["swing"], row["lay_back"]),
        pocket=Pocket.named(row["pocket"]),
        input_name=row["input"],
        sound=row["sound"],
        delay_ms=_whole(row["delay_ms"], "delay_ms"),
        click_off=flags["click_off"],
        knows_left=flags["knows_left"],
        simulated=flags["simulated"],
        not_graded=row["not_graded"],
        taps=taps,
    )


def _pattern(f: Fields) -> Pattern:
    return read_pattern(f.text("text"), name=f.text("name"), source=f.text("name"))


def _json(path: Path) -> object:
    data = _bytes(path)
    try:
        return json.loads(data)
    except (ValueError, RecursionError) as err:
        raise BadRecords("this is no JSON", "name a file that thumbfall export wrote") from err


def _bytes(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size <= LARGEST_FILE_BYTES:
            return path.read_bytes()
    except (OSError, ValueError) as err:
        reason = err.strerror if isinstance(err, OSError) else err
        raise StoreProblem(f"{path} cannot be read ({reason})", "check the name") from err
    raise BadRecords(f"the file is {size} bytes long", "export the takes in smaller parts, by player")


def _rows(path: Path, columns: tuple[str, ...]) -> Iterator[tuple[int, Mapping[str, str]]]:
    """Give the lines of a CSV file as tables, with the number of the line each ends on."""
    with _named(f"{path}"):
        try:
            text = _bytes(path).decode("utf-8-sig")
        except UnicodeDecodeError as err:
            raise BadRecords("the file is not UTF-8 text", "export the takes again") from err
    lines = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    with _named(f"{path}"):
        missing = [name for name in columns if name not in (lines.fieldnames or ())]
        if missing:
            raise BadRecords(f"the column {missing[0]} is missing", "export the takes again")
    while True:
        with _named(f"{path}:{lines.line_num + 1}"):
            try:
                row = next(lines, None)
            except csv.Error as err:
                raise BadRecords(f"this is no CSV ({err})", "export the takes again") from err
            if row is not None and None in row.values():
                raise BadRecords("the line is too short", "export the takes again")
        if row is None:
            return
        yield lines.line_num, row


def _whole(text: str, name: str) -> int:
    try:
        return int(text[:20])
    except ValueError:
        raise BadRecords(f"found {text[:40]!r} for {name}", "write a whole number") from None


def _day(text: str) -> int:
    try:
        return date.fromisoformat(text).toordinal()
    except ValueError:
        raise BadRecords(f"found {text[:40]!r} for day", "write the date as 2026-03-01") from None


@contextmanager
def _named(where: str) -> Iterator[None]:
    """Let a problem inside say in which file and at which take it was met."""
    try:
        yield
    except StoreProblem:
        raise
    except BadNotation as err:
        raise BadRecords(f"{where}: the pattern cannot be read: {err.problem}", err.remedy) from err
    except TrainerError as err:
        problem, remedy = getattr(err, "problem", str(err)), getattr(err, "remedy", "export the takes again")
        raise BadRecords(f"{where}: {problem}", remedy) from err
