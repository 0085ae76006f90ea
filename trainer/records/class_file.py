"""Keep a class's names and turns in a file of the user's, write it as CSV, and forget it.

The file is JSON in the data folder, written whole or not at all, under a lock: two windows may have one class
open, and what both do is kept. Nothing of it leaves the machine.

Format 2; format 1, of version 0.3.0 and before, is read too: its turns say no day. Of the dots of turns those
are kept that a board shows: of each pupil's last turn on each of the latest boards.
"""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from datetime import date
from pathlib import Path

from trainer.errors import StoreProblem
from trainer.files import (
    data_folder,
    documents_folder,
    locked,
    make_own_folder,
    put_aside,
    read_whole,
    whole_file,
)
from trainer.judging.take import Verdict
from trainer.music.bounded_json import parse_json
from trainer.music.timeline import as_tempo
from trainer.practice.class_merge import merged
from trainer.practice.classroom import Classroom, Order, Pupil
from trainer.practice.turns import Turn
from trainer.records.class_csv import csv_rows
from trainer.records.copies import CopyKind, note_copy
from trainer.records.csv_cells import written

FORMAT = 2
FORMAT_WITHOUT_DAYS = 1
LARGEST_FILE_BYTES = 64 * 1024 * 1024
BOARDS_WITH_DOTS = 40  # of thirty pupils these are some two megabytes
VERDICT_LETTERS = {
    Verdict.IN_TIME: "i",
    Verdict.EARLY: "e",
    Verdict.LATE: "l",
    Verdict.MISSED: "m",
    Verdict.WRONG_HAND: "h",
    Verdict.WRONG_STRING: "s",
    Verdict.STRAY: "y",
    Verdict.KEPT_SILENT: "k",
    Verdict.TOUCHED: "t",
    Verdict.NOT_JUDGED: "n",
}
VERDICT_OF = {letter: verdict for verdict, letter in VERDICT_LETTERS.items()}


def class_path() -> Path:
    """Return where the class is kept."""
    return data_folder() / "class.json"


def load_class(path: Path | None = None) -> tuple[Classroom, str]:
    """Return the class as it was left, and a sentence about what was wrong with its file, or an empty text.

    A missing file is an empty class; one that cannot be read is put aside, not deleted.
    """
    path = path or class_path()
    found, note = _read(path)
    return found or Classroom(), note


def keep_class(before: Classroom, after: Classroom, path: Path | None = None) -> tuple[Classroom, str]:
    """Keep what has changed in a class, together with what another window has changed meanwhile.

    A class without names leaves no file.

    Args:
        before: as it was read or kept last; ``after`` as it is now.

    Returns:
        The class as it is kept now, and a sentence about what another window did, or an empty text.

    Raises:
        StoreProblem: the folder cannot be written, or another program holds the file for seconds.
    """
    path = path or class_path()
    try:
        make_own_folder(path.parent)
        with locked(path):
            theirs, note = _read(path)
            both = merged(before, after, theirs or Classroom())
            if both.room.pupils:
                with whole_file(path, errors="backslashreplace") as file:
                    json.dump(_table(both.room), file, ensure_ascii=False, separators=(",", ":"))
            else:
                path.unlink(missing_ok=True)
    except OSError as err:
        raise StoreProblem(
            f"the class cannot be kept in {path} ({err.strerror})",
            "free some space or mend the folder's rights; the names hold until the program ends",
        ) from err
    return both.room, note or both.note


def write_class_csv(room: Classroom, stem: str, folder: Path | None = None) -> Path:
    """Write the class as CSV (RFC 4180, UTF-8) and return the file; an existing file is never overwritten.

    Args:
        stem: the file's name without its ending.
        folder: None for the user's documents.

    Raises:
        StoreProblem: the file cannot be written.
    """
    folder = folder or documents_folder()
    text = io.StringIO()
    csv.writer(text).writerows([written(cell) for cell in row] for row in csv_rows(room))
    for number in range(1, 1000):
        path = folder / (f"{stem}.csv" if number == 1 else f"{stem}-{number}.csv")
        if path.exists():
            continue
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with path.open("x", encoding="utf-8", errors="backslashreplace", newline="") as file:
                file.write(text.getvalue())
            note_copy(CopyKind.CLASS, path)
            return path
        except OSError as err:
            raise StoreProblem(
                f"the class cannot be written to {path} ({err.strerror})",
                "free some space or mend the folder's rights",
            ) from err
    raise StoreProblem(f"{folder} has a thousand files called {stem}", "move some of them away")


def _read(path: Path) -> tuple[Classroom | None, str]:
    """Return what a file holds, None for nothing, and a sentence about what is wrong."""
    try:
        return _from_table(parse_json(read_whole(path, LARGEST_FILE_BYTES))), ""
    except FileNotFoundError:
        return None, ""
    except (OSError, ValueError, LookupError, TypeError, ArithmeticError):
        try:
            aside = put_aside(path)
        except OSError:
            return None, f"the class in {path} cannot be read; an empty one is used."
        return None, f"the class in {path} cannot be read; it is put aside as {aside.name}."


def _table(room: Classroom) -> dict[str, object]:
    with_dots = set(room.boards[-BOARDS_WITH_DOTS:])
    return {
        "format": FORMAT,
        "at": room.at,
        "order": room.order.value,
        "pupils": [
            {
                "name": pupil.name,
                "away": pupil.away,
                "turns": [
                    _turn_table(turn, dots=turn.board in with_dots and turn == pupil.on(turn.board)[-1])
                    for turn in pupil.turns
                ],
            }
            for pupil in room.pupils
        ],
    }


def _turn_table(turn: Turn, *, dots: bool) -> dict[str, object]:
    table: dict[str, object] = {
        "uid": turn.uid,
        "begun": turn.begun,
        "day": turn.day,
        "pattern": turn.pattern,
        "title": turn.title,
        "level": turn.level,
        "bpm": str(turn.bpm),
        "asked": turn.asked,
        "clean": turn.clean,
        "mean_s": turn.mean_s,
        "spread_s": turn.spread_s,
        "rushed": turn.rushed,
        "touched": turn.touched,
        "not_judged": turn.not_judged,
        "reading": turn.reading,
        "disturbed": turn.disturbed,
        "by_word": turn.by_word,
        "together": turn.together,
    }
    if dots:
        table["placements_us"] = [round(placement * 1e6) for placement in turn.placements_s]
        table["verdicts"] = "".join(VERDICT_LETTERS[verdict] for verdict in turn.verdicts)
    return table


def _from_table(table: object) -> Classroom:
    if not isinstance(table, dict) or table["format"] not in (FORMAT, FORMAT_WITHOUT_DAYS):
        raise ValueError("another format")
    read = _turn if table["format"] == FORMAT else _turn_without_day
    pupils = table["pupils"]
    if not isinstance(pupils, list):
        raise TypeError("no list of pupils")
    room = Classroom(
        pupils=tuple(
            Pupil(
                name=str(pupil["name"]),
                turns=tuple(read(turn) for turn in pupil["turns"]),
                away=_whole(pupil.get("away")),
            )
            for pupil in pupils
        ),
        order=Order(table["order"]),
    )
    return room.chosen(int(str(table["at"])))


def _turn(table: dict[str, object]) -> Turn:
    placements, letters = table.get("placements_us", []), str(table.get("verdicts", ""))
    turn = replace(
        _turn_without_day({**table, "placements_us": placements, "verdicts": []}),
        uid=str(table["uid"]),
        begun=str(table["begun"]),
        day=_whole(table["day"]),
        title=str(table["title"]),
        level=str(table["level"]),
        not_judged=int(str(table["not_judged"])),
        reading=str(table["reading"]),
        disturbed=str(table["disturbed"]),
        by_word=table["by_word"] is True,
        together=table["together"] is True,
        verdicts=tuple(VERDICT_OF[letter] for letter in letters),
    )
    if turn.day is not None and not 1 <= turn.day <= date.max.toordinal():
        raise ValueError("no day has this number")
    if len(turn.placements_s) != len(turn.verdicts):
        raise ValueError("taps without a verdict")
    return turn


def _turn_without_day(table: dict[str, object]) -> Turn:
    placements, verdicts = table["placements_us"], table["verdicts"]
    if not isinstance(placements, list) or not isinstance(verdicts, list):
        raise TypeError("no lists of taps")
    if table.keys().isdisjoint({"uid"}) and len(placements) != len(verdicts):
        raise ValueError("taps without a verdict")
    return Turn(
        pattern=str(table["pattern"]),
        bpm=as_tempo(str(table["bpm"])),
        asked=int(str(table["asked"])),
        clean=int(str(table["clean"])),
        mean_s=_number(table["mean_s"]),
        spread_s=_number(table["spread_s"]),
        rushed=int(str(table["rushed"])),
        touched=int(str(table["touched"])),
        placements_s=tuple(int(us) / 1e6 for us in placements),
        verdicts=tuple(Verdict(word) for word in verdicts),
    )


def _number(value: object) -> float | None:
    return None if value is None else float(str(value))


def _whole(value: object) -> int | None:
    return None if value is None else int(str(value))
