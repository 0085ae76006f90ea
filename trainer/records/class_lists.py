"""Keep several classes by name, each in a file of its own; the one without a name is the first.

The name stands in the file's name, so that it is gone with the file.
"""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote, unquote

from trainer.errors import BadSettings, StoreProblem
from trainer.files import data_folder, read_whole
from trainer.practice.classroom import LONGEST_NAME, read_names
from trainer.records.class_file import class_path, load_class

FOLDER = "classes"
ENDING = ".json"
LARGEST_NAMES_BYTES = 64 * 1024
FIRST = "the class"  # what the one without a name is called


def list_path(name: str) -> Path:
    """Return where a class is kept; an empty name is the first one's."""
    if not name:
        return class_path()
    return data_folder() / FOLDER / f"{quote(name, safe=' ')}{ENDING}"


def list_names() -> tuple[str, ...]:
    """Return the names of all classes that are kept, in alphabetical order, the one without a name first."""
    try:
        found = [unquote(path.stem) for path in (data_folder() / FOLDER).glob(f"*{ENDING}")]
    except OSError:
        found = []
    first = ("",) if class_path().exists() else ()
    return (*first, *sorted((name for name in found if name), key=str.casefold))


def clean_list_name(text: str) -> str:
    """Return the name of a class as it is kept.

    Raises:
        BadSettings: it is empty, too long, or holds what cannot be shown.
    """
    name = " ".join(text.split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise BadSettings(
            f"found {len(name)} characters for the name of a class",
            f"write 1 to {LONGEST_NAME} that can be shown",
        )
    return name


def pupils_elsewhere(name: str) -> frozenset[str]:
    """Return the names of all pupils in other classes than this one."""
    found: set[str] = set()
    for other in list_names():
        if other != name:
            found |= set(load_class(list_path(other))[0].names)
    return frozenset(found)


def names_in(path: Path) -> tuple[str, ...]:
    """Return the names in a text file, one a line or parted by commas.

    Raises:
        StoreProblem: it cannot be read.
    """
    try:
        text = read_whole(path, LARGEST_NAMES_BYTES).decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as err:
        reason = err.strerror if isinstance(err, OSError) else "it is not UTF-8 text"
        raise StoreProblem(
            f"{path} cannot be read ({reason})", "name a text file with a name a line"
        ) from err
    return read_names(text)
