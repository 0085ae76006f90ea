"""Write takes into files that other programs read: JSON, CSV, Standard MIDI Files.

JSON holds everything, in one file: ``format`` ("thumbfall takes"), ``version`` (1), ``takes`` (fields in
:mod:`trainer.records.take_codec`) and ``patterns`` by key.

CSV (RFC 4180, UTF-8, a line of column names first) comes as three files in a folder:

- ``takes.csv``: a line for each take: its fields under the names of :mod:`trainer.records.take_codec`
  (``begun`` as begun_utc, tempi as ``beat second bpm`` parted by semicolons, no rungs), then pattern, title,
  bpm_first, bpm_last, mean_ms, spread_ms, fastest_clean_bpm, pattern_text.
- ``strokes.csv``: a line for each stroke asked, rests left out: uid of the take, pass, bar, slot (from 1),
  kind, string, expected_s, tapped_s, placement_ms (late positive), pocket_ms, verdict, rushed_gap.
- ``taps.csv``: a line for each tap: uid of the take, at_us, hand, string, velocity, within_us.

Empty means unknown or none; true and false are 1 and 0. A text that a spreadsheet would take for a formula
has an apostrophe before it (:mod:`trainer.records.csv_cells`).

A file that is no export is never written over, and one that holds more takes than are written now gets
another name first; none at all are only written where none were.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from trainer.errors import StoreProblem, TrainerError
from trainer.files import SHARED, whole_file
from trainer.judging.take import Outcome
from trainer.music.notation import write_pattern
from trainer.practice.json_values import Json
from trainer.practice.stored_take import StoredTake, judgement_of
from trainer.records.csv_cells import Cell, written
from trainer.records.older_exports import keep_older, must_be_export
from trainer.records.take_codec import FIELDS, take_table
from trainer.records.take_text import clean_words, spans_in_words, text_hash
from trainer.records.tap_codec import tap_values

FORMAT = "thumbfall takes"
VERSION = 1
TAKES_CSV, STROKES_CSV, TAPS_CSV = "takes.csv", "strokes.csv", "taps.csv"
CSV_FIELDS = tuple(field for field in FIELDS if field.name not in ("rungs", "taps", "mean_s", "spread_s"))
LONGEST_NAME = 80  # of a pattern, in a file's name
PATTERN, PATTERN_TEXT = "pattern", "pattern_text"
_BESIDES: Mapping[str, Callable[[StoredTake], Cell]] = {
    PATTERN: lambda take: clean_words(take.pattern.name),
    "title": lambda take: clean_words(take.pattern.title),
    "bpm_first": lambda take: float(take.timeline.spans[0].bpm),
    "bpm_last": lambda take: float(take.timeline.spans[-1].bpm),
    "mean_ms": lambda take: _ms(take.mean_s),
    "spread_ms": lambda take: _ms(take.spread_s),
    "fastest_clean_bpm": lambda take: "" if take.fastest_clean is None else float(take.fastest_clean),
    PATTERN_TEXT: lambda take: write_pattern(take.pattern),
}
TAKE_COLUMNS = (*(field.column or field.name for field in CSV_FIELDS), *_BESIDES)
STROKE_COLUMNS = (
    "uid", "pass", "bar", "slot", "kind", "string", "expected_s", "tapped_s", "placement_ms", "pocket_ms",
    "verdict", "rushed_gap",
)  # fmt: skip
TAP_COLUMNS = ("uid", "at_us", "hand", "string", "velocity", "within_us")


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What an export has written: how many takes, and where older files with more takes are now."""

    takes: int
    older: tuple[Path, ...] = ()


def write_json(path: Path, takes: Iterable[StoredTake]) -> Exported:
    """Write takes as one JSON file, whole or not at all.

    Raises:
        BadSettings: there is a file that is no export, or no takes to write over those it holds.
        StoreProblem: the file cannot be written.
    """
    must_be_export(path)
    patterns: dict[str, dict[str, str]] = {}
    n = 0
    with _writing(path) as file:
        file.write(f'{{"format": {json.dumps(FORMAT)}, "version": {VERSION}, "takes": [')
        # One at a time, because years of practice do not fit into the memory as text.
        for n, take in enumerate(takes, start=1):
            name, text = clean_words(take.pattern.name), write_pattern(take.pattern)
            key = text_hash(name, text)
            patterns[key] = {"name": name, "title": clean_words(take.pattern.title), "text": text}
            table = json.dumps({**take_table(take), "pattern": key}, ensure_ascii=False, allow_nan=False)
            file.write(f"{',' if n > 1 else ''}\n{table}")
        file.write(f'\n], "patterns": {json.dumps(patterns, ensure_ascii=False, indent=1)}}}\n')
        older = keep_older((path,), path, n)
    return Exported(takes=n, older=older)


def write_csv(folder: Path, takes: Iterable[StoredTake]) -> Exported:
    """Write takes, strokes and taps as CSV files into a folder, which is made.

    Raises:
        BadSettings: there is a file that is no export, or no takes to write over those it holds.
        StoreProblem: the folder or a file cannot be written.
    """
    make_folder(folder)
    paths = tuple(folder / name for name in (TAKES_CSV, STROKES_CSV, TAPS_CSV))
    for path in paths:
        must_be_export(path)
    n = 0
    with ExitStack() as open_files:
        into = [csv.writer(open_files.enter_context(_writing(path))) for path in paths]
        for writer, columns in zip(into, (TAKE_COLUMNS, STROKE_COLUMNS, TAP_COLUMNS), strict=True):
            writer.writerow(columns)
        for take in takes:
            n += 1
            into[0].writerow(_take_cells(take))
            judgement = judgement_of(take)
            into[1].writerows(
                _stroke_cells(take.uid, outcome, pocket_s)
                for outcome, pocket_s in zip(judgement.outcomes, judgement.pocket_s, strict=True)
            )
            into[2].writerows(_tap_cells(take))
        older = keep_older(paths, paths[0], n)
    return Exported(takes=n, older=older)


def _take_cells(take: StoredTake) -> Iterator[Cell]:
    for field in CSV_FIELDS:
        yield _cell(field.write(take))
    for value in _BESIDES.values():
        yield written(value(take))


def _cell(value: Json) -> Cell:
    if value is None:
        return ""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, str | int | float):
        return written(value)
    return spans_in_words([[str(part) for part in row] for row in value if isinstance(row, Sequence)])


def _stroke_cells(uid: str, outcome: Outcome, pocket_s: float) -> tuple[Cell, ...]:
    target = outcome.target
    strings = target.stroke.strings
    return (
        uid, target.pass_index + 1, target.bar + 1, target.slot + 1, target.stroke.kind.value,
        strings[0] if strings else "", round(target.song_s, 6),
        "" if outcome.tap is None else outcome.tap.song_s, _ms(outcome.placement_s), _ms(pocket_s),
        outcome.verdict.value, int(outcome.rushed_gap),
    )  # fmt: skip


def _tap_cells(take: StoredTake) -> Iterator[Sequence[Cell]]:
    for tap in take.taps:
        at_us, hand, string, velocity, within_us = tap_values(tap)
        yield take.uid, at_us, hand, string or "", velocity or "", within_us


def _ms(seconds: float | None) -> Cell:
    return "" if seconds is None else round(seconds * 1000, 3)


def make_folder(folder: Path) -> None:
    """Make a folder for what is exported.

    Raises:
        StoreProblem: it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise StoreProblem(
            f"the folder {folder} cannot be made ({err.strerror})", "choose another place"
        ) from err


@contextmanager
def _writing(path: Path) -> Iterator[TextIO]:
    """Give a file to write that takes its place only when all of it is on the disk."""
    try:
        with whole_file(path, mode=SHARED, newline="") as file:
            yield file
    except TrainerError:
        raise  # of where the takes come from
    except OSError as err:
        raise StoreProblem(f"{path} cannot be written ({err.strerror})", "choose another place") from err
