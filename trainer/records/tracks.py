"""Remember tempo and beat 1 of a player's own tracks, one small TOML file for each, never the track itself.

The file is named by the track's SHA-256, so a track is known again after it was moved or renamed, and not
after it was cut. It is written for people too: they may correct it.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from trainer.errors import BadSettings, StoreProblem
from trainer.files import data_folder, make_own_folder, read_whole, whole_file
from trainer.music.bounded_toml import read_toml
from trainer.music.exact import read_exact
from trainer.music.timeline import as_tempo

LARGEST_FILE_BYTES = 16 * 1024
MOST_RECENT, MOST_LOOKED_AT = 5, 50
_MARK = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackNote:
    """What is remembered of a track.

    Attributes:
        name: the file's name when it was noted, for people who look.
        bpm: beats a minute.
        beat_1_s: second of the file at which beat 1 of bar 1 lies.
        path: where it lay then; empty where that was not noted.
        speed: percent of its own speed at which it was used last.
        first_bar: the bar that a drill begins with, from 1.
    """

    name: str
    bpm: Fraction
    beat_1_s: float
    path: str = ""
    speed: int = 100
    first_bar: int = 1


def tracks_folder() -> Path:
    """Return the folder for the notes; it may not exist yet."""
    return data_folder() / "tracks"


def write_track_note(mark: str, note: TrackNote, folder: Path | None = None) -> Path:
    """Write a note whole or not at all and return its path.

    Raises:
        StoreProblem: the folder cannot be written.
    """
    path = _path(mark, folder)
    text = (
        f"# Where the beat lies in this track; correct it if you know better.\n"
        f"name = {json.dumps(note.name, ensure_ascii=False)}\n"
        f"bpm = {_decimal(note.bpm)}\n"
        f"beat_1 = {note.beat_1_s:.6f}  # seconds from the begin of the file\n"
        f"path = {json.dumps(note.path, ensure_ascii=False)}\n"
        f"speed = {note.speed}  # percent\n"
        f"first_bar = {note.first_bar}\n"
    )
    try:
        make_own_folder(path.parent)
        with whole_file(path, errors="backslashreplace") as file:
            file.write(text.replace("\x7f", "\\u007f"))
    except OSError as err:
        raise StoreProblem(
            f"beat and tempo of {note.name} cannot be kept in {path} ({err.strerror})",
            "free some space or mend the folder's rights; they hold until the program ends",
        ) from err
    return path


def read_track_note(mark: str, folder: Path | None = None) -> TrackNote | None:
    """Return what is remembered of a track; None when nothing is.

    Raises:
        StoreProblem: the note is there and cannot be read.
    """
    path = _path(mark, folder)
    try:
        table = read_toml(read_whole(path, LARGEST_FILE_BYTES).decode("utf-8"))
        return _note(table)
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as err:
        if isinstance(err, OSError):
            why = err.strerror or "no reason is given"
        else:
            why = err.problem if isinstance(err, BadSettings) else str(err).splitlines()[0]
        raise StoreProblem(
            f"{path} cannot be read ({why})", "mend it, or delete it and set beat 1 anew"
        ) from err


def _note(table: dict[str, object]) -> TrackNote:
    name, bpm, beat_1 = table.get("name", ""), table.get("bpm"), table.get("beat_1")
    if not isinstance(name, str):
        raise ValueError("name is not text")
    for key, value in (("bpm", bpm), ("beat_1", beat_1)):
        if isinstance(value, bool) or not isinstance(value, int | Decimal):
            raise ValueError(f"{key} is not a number")
    beat_1_s = float(read_exact(str(beat_1)))
    if beat_1_s < 0:
        raise ValueError("beat_1 is no second of the file")
    path, speed, bar = table.get("path", ""), table.get("speed", 100), table.get("first_bar", 1)
    # What is missing or no use costs nothing but that: tempo and beat are what the note is for.
    return TrackNote(
        name=name,
        bpm=as_tempo(str(bpm)),
        beat_1_s=beat_1_s,
        path=path if isinstance(path, str) else "",
        speed=speed if type(speed) is int and 1 <= speed <= 100 else 100,
        first_bar=bar if type(bar) is int and bar >= 1 else 1,
    )


def recent_tracks(folder: Path | None = None, *, most: int = MOST_RECENT) -> tuple[Path, ...]:
    """Return the tracks used last that are still where they were, the latest first."""
    place = tracks_folder() if folder is None else folder
    try:
        notes = sorted(place.glob("*.toml"), key=lambda path: path.stat().st_mtime, reverse=True)
    except OSError:
        return ()
    found: list[Path] = []
    for note_path in notes[:MOST_LOOKED_AT]:
        try:
            note = read_track_note(note_path.stem, place) if _MARK.fullmatch(note_path.stem) else None
            path = Path(note.path) if note is not None and note.path else None
            if path is not None and path not in found and path.is_file():
                found.append(path)
        except (StoreProblem, OSError, ValueError):
            continue
        if len(found) == most:
            break
    return tuple(found)


def _path(mark: str, folder: Path | None) -> Path:
    if not _MARK.fullmatch(mark):
        raise ValueError(f"{mark!r} is no SHA-256")
    return (tracks_folder() if folder is None else folder) / f"{mark}.toml"


def _decimal(value: Fraction) -> str:
    return f"{Decimal(value.numerator) / Decimal(value.denominator):.6f}".rstrip("0").rstrip(".")
