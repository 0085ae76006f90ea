"""Keep the records readable by their owner alone: what is new is made so, what is there becomes so."""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

from trainer.files import OWN, OWN_FOLDER, data_folder, make_own_folder

_OTHERS = stat.S_IRWXG | stat.S_IRWXO
_BESIDE = ("", "-wal", "-shm", "-journal", ".in-use")


def own_folder(folder: Path) -> None:
    """Make the folder of the records; one that is there stays as it is unless it is the program's own.

    A folder that the user has chosen may be one that others are meant to see, with other things in it.

    Raises:
        OSError: it cannot be made.
    """
    make_own_folder(folder)
    if folder == data_folder() or folder.parent == data_folder():
        _close_to_others(folder, OWN_FOLDER)


def own_file(path: Path) -> None:
    """Make an empty file that its owner alone can read, where there is none.

    Raises:
        OSError: it cannot be made.
    """
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWN))


def tighten(path: Path) -> None:
    """Take away what others may do with the records and what belongs to them."""
    for beside in _BESIDE:
        _close_to_others(path.with_name(path.name + beside), OWN)


def _close_to_others(path: Path, mode: int) -> None:
    # Where rights cannot be changed, as on some shared folders, the records are of use all the same.
    with suppress(OSError):
        if os.name == "posix" and path.stat().st_mode & _OTHERS:
            path.chmod(mode)
