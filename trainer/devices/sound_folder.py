"""Look through a folder for sound files and for folders to go on to."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from string import ascii_uppercase

from trainer.devices.backing import ENDINGS
from trainer.errors import StoreProblem

MOST_SHOWN = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundFolder:
    """What a folder holds of use here, each sorted by name without regard to case.

    Attributes:
        path: the folder, absolute.
        folders, files: in it; what is hidden is left out, and what comes after the first 2000. At the top of
            a drive the other drives are folders, too.
    """

    path: Path
    folders: tuple[Path, ...]
    files: tuple[Path, ...]


def look_through(folder: Path) -> SoundFolder:
    """Return what a folder holds.

    Raises:
        StoreProblem: it cannot be read.
    """
    folders: list[Path] = []
    files: list[Path] = []
    drives = [drive for drive in drives_of() if drive != folder] if folder.parent == folder else []
    try:
        for each in folder.iterdir():
            if each.name.startswith("."):
                continue
            if each.suffix.lower() in ENDINGS and each.is_file():
                files.append(each)
            elif each.is_dir():
                folders.append(each)
    except OSError as err:
        raise StoreProblem(f"{folder} cannot be shown ({err.strerror})", "choose another folder") from err
    folders, files = (sorted(found, key=lambda path: path.name.casefold()) for found in (folders, files))
    return SoundFolder(path=folder, folders=(*drives, *folders[:MOST_SHOWN]), files=tuple(files[:MOST_SHOWN]))


def drives_of(platform: str = sys.platform) -> tuple[Path, ...]:
    """Return the drives of a system that has some, as Windows has; else nothing."""
    if platform != "win32":
        return ()
    return tuple(drive for letter in ascii_uppercase if (drive := Path(f"{letter}:\\")).exists())
