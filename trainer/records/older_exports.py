"""Look before an export writes over a file: it may be the only good copy of somebody's takes."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from trainer.errors import BadSettings, StoreProblem

# How each kind of file begins that an export writes, and so may write over.
BEGINS = {
    ".csv": (b"uid,", b"\xef\xbb\xbfuid,"),
    ".mid": (b"MThd",),
    ".midi": (b"MThd",),
}
JSON_SAYS = b'"thumbfall takes"'
LOOKED_AT_BYTES = 256
MOST_OLDER = 1000


def must_be_export(path: Path) -> None:
    """Refuse a file that is there already and is not what an export writes; an empty one will do.

    Raises:
        BadSettings: it is something else.
        StoreProblem: it cannot be read.
    """
    if not path.is_file():
        return
    try:
        with path.open("rb") as file:
            head = file.read(LOOKED_AT_BYTES)
    except OSError as err:
        raise StoreProblem(f"{path} cannot be read ({err.strerror})", "name another file") from err
    begins = BEGINS.get(path.suffix.lower())
    if head and not (JSON_SAYS in head if begins is None else head.startswith(begins)):
        raise BadSettings(f"{path} is there already and is no export of takes", "name another file")


def keep_older(paths: Sequence[Path], counted: Path, takes: int) -> tuple[Path, ...]:
    """Give files that hold more takes than are written now another name; return their new names.

    Args:
        counted: the one of them that tells how many takes they hold.
        takes: how many are written now.

    Raises:
        BadSettings: none are written now, and there are some.
        OSError: a file cannot be read or renamed.
    """
    there = takes_in(counted)
    if takes >= there:
        return ()
    if not takes:
        raise BadSettings(
            f"there is no take to write, and {counted} holds {there}",
            "name another file, or remove that one first",
        )
    number = next(n for n in range(1, MOST_OLDER) if not any(_older(path, n).exists() for path in paths))
    done = []
    for path in paths:
        if path.exists():
            path.replace(_older(path, number))
            done.append(_older(path, number))
    return tuple(done)


def takes_in(path: Path) -> int:
    """Return how many takes an exported file holds; 0 where there is none."""
    if not path.is_file():
        return 0
    if path.suffix.lower() == ".csv":
        rows = -1  # the line of names
        with path.open(newline="", encoding="utf-8", errors="replace") as text, suppress(csv.Error):
            for _ in csv.reader(text):
                rows += 1
        return max(rows, 0)
    with path.open("rb") as lines:
        return sum(line.count(b'"begun":') for line in lines)


def _older(path: Path, number: int) -> Path:
    return path.with_name(f"{path.stem}.older-{number}{path.suffix}")
