"""Keep a class's names and turns in a file of the user's, write it as CSV, and forget it.

The file is JSON in the data folder, written whole or not at all. Nothing of it leaves the machine.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

from trainer.errors import StoreProblem
from trainer.files import data_folder, documents_folder, make_own_folder, put_aside, read_whole, whole_file
from trainer.judging.take import Verdict
from trainer.music.bounded_json import parse_json
from trainer.music.timeline import as_tempo
from trainer.practice.classroom import Classroom, Order, Pupil, Turn, csv_rows
from trainer.records.csv_cells import written

FORMAT = 1
LARGEST_FILE_BYTES = 8 * 1024 * 1024


def class_path() -> Path:
    """Return where the class is kept."""
    return data_folder() / "class.json"


def load_class(path: Path | None = None) -> tuple[Classroom, str]:
    """Return the class as it was left, and a sentence about what was wrong with its file, or an empty text.

    A missing file is an empty class; one that cannot be read is put aside, not deleted.
    """
    path = path or class_path()
    try:
        return _from_table(parse_json(read_whole(path, LARGEST_FILE_BYTES))), ""
    except FileNotFoundError:
        return Classroom(), ""
    except (OSError, ValueError, LookupError, TypeError, ArithmeticError):
        try:
            aside = put_aside(path)
        except OSError:
            return Classroom(), f"the class in {path} cannot be read; an empty one is used."
        return Classroom(), f"the class in {path} cannot be read; it is put aside as {aside.name}."


def save_class(room: Classroom, path: Path | None = None) -> None:
    """Write the class, or take its file away when nobody is in it.

    Raises:
        StoreProblem: the folder cannot be written.
    """
    path = path or class_path()
    try:
        if not room.pupils:
            path.unlink(missing_ok=True)
            return
        make_own_folder(path.parent)
        with whole_file(path, errors="backslashreplace") as file:
            json.dump(_table(room), file, ensure_ascii=False)
    except OSError as err:
        raise StoreProblem(
            f"the class cannot be kept in {path} ({err.strerror})",
            "free some space or mend the folder's rights; the names hold until the program ends",
        ) from err


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
            return path
        except OSError as err:
            raise StoreProblem(
                f"the class cannot be written to {path} ({err.strerror})",
                "free some space or mend the folder's rights",
            ) from err
    raise StoreProblem(f"{folder} has a thousand files called {stem}", "move some of them away")


def _table(room: Classroom) -> dict[str, object]:
    return {
        "format": FORMAT,
        "at": room.at,
        "order": room.order.value,
        "pupils": [
            {"name": pupil.name, "turns": [_turn_table(turn) for turn in pupil.turns]}
            for pupil in room.pupils
        ],
    }


def _turn_table(turn: Turn) -> dict[str, object]:
    return {
        "pattern": turn.pattern,
        "bpm": str(turn.bpm),
        "asked": turn.asked,
        "clean": turn.clean,
        "mean_s": turn.mean_s,
        "spread_s": turn.spread_s,
        "rushed": turn.rushed,
        "touched": turn.touched,
        "placements_us": [round(placement * 1e6) for placement in turn.placements_s],
        "verdicts": [verdict.value for verdict in turn.verdicts],
    }


def _from_table(table: object) -> Classroom:
    if not isinstance(table, dict) or table["format"] != FORMAT:
        raise ValueError("another format")
    pupils = table["pupils"]
    if not isinstance(pupils, list):
        raise TypeError("no list of pupils")
    room = Classroom(
        pupils=tuple(
            Pupil(name=str(pupil["name"]), turns=tuple(_turn(turn) for turn in pupil["turns"]))
            for pupil in pupils
        ),
        order=Order(table["order"]),
    )
    return room.chosen(int(str(table["at"])))


def _turn(table: dict[str, object]) -> Turn:
    placements, verdicts = table["placements_us"], table["verdicts"]
    if not isinstance(placements, list) or not isinstance(verdicts, list):
        raise TypeError("no lists of taps")
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
