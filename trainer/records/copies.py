"""Remember which files with names of players were written outside of the records, so that they can be named.

A list in the data folder: where records were before they were moved, copies of them, files written for other
programs. It is read only to say what may still hold a name, so a file of it that is damaged or cannot be
written costs nothing but that.
"""

from __future__ import annotations

import enum
import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import StoreProblem
from trainer.files import data_folder, locked, make_own_folder, read_whole, whole_file
from trainer.music.bounded_json import parse_json

MOST_COPIES = 500  # the latest
LARGEST_BYTES = 1 << 20


class CopyKind(enum.Enum):
    """What was written; the value is the word in the file and for people."""

    MOVED = "records as they were before they were moved"
    BACKUP = "copy of the records"
    EXPORT = "export"
    CLASS = "class as CSV"
    PAGE = "page of results"


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """A file or folder that holds names, and what it is."""

    kind: CopyKind
    path: Path


def copies_path() -> Path:
    """Return where the list is kept."""
    return data_folder() / "copies.json"


def note_copy(kind: CopyKind, path: Path) -> None:
    """Remember a file that was written; where that fails it is not remembered, and nothing else happens."""
    fresh = Copy(kind=kind, path=path.expanduser().absolute())
    with suppress(OSError, StoreProblem):
        home = copies_path()
        make_own_folder(home.parent)
        with locked(home):
            known = [each for each in _read(home) if each != fresh]
            rows = [{"kind": each.kind.value, "path": str(each.path)} for each in (*known, fresh)]
            with whole_file(home, errors="backslashreplace") as file:
                json.dump(rows[-MOST_COPIES:], file, ensure_ascii=False)


def known_copies() -> tuple[Copy, ...]:
    """Return what is remembered and still there, the oldest first."""
    with suppress(OSError, StoreProblem):
        return tuple(each for each in _read(copies_path()) if _is_there(each.path))
    return ()


def _read(path: Path) -> list[Copy]:
    with suppress(OSError, ValueError, LookupError, TypeError):
        table = parse_json(read_whole(path, LARGEST_BYTES))
        if isinstance(table, list):
            return [Copy(kind=CopyKind(row["kind"]), path=Path(str(row["path"]))) for row in table]
    return []


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):
        return False
