"""Keep what a player has chosen, in one JSON file in the user's settings folder.

Several programs may keep settings at once: each changes its own fields, under a lock, and leaves the others
as they stand in the file. A file that cannot be read is put aside and said so; of one with an odd value a
copy is kept, the value is said, and what can be used instead is used.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from trainer.errors import StoreProblem
from trainer.files import (
    copy_aside,
    locked,
    make_own_folder,
    put_aside,
    read_whole,
    settings_folder,
    whole_file,
)
from trainer.practice.setting_changes import as_table, from_table, merged
from trainer.practice.settings import Settings

LARGEST_FILE_BYTES = 1 << 20
LONGEST_INT = 18  # digits


def settings_path() -> Path:
    """Return where the settings are kept."""
    return settings_folder() / "settings.json"


def load_settings(path: Path | None = None) -> tuple[Settings, str]:
    """Return the settings and one sentence about what was wrong with them, or an empty text.

    A missing file gives the usual ones. A value that cannot be used costs only itself, and a copy of the file
    is kept. A file that is no settings at all is renamed and left for its owner.
    """
    try:
        path = path or settings_path()
    except StoreProblem as err:
        return Settings(), str(err)
    found, note = _read(path)
    return found or Settings(), note


def save_settings(settings: Settings, path: Path | None = None) -> None:
    """Write all settings, whatever stands there.

    Raises:
        StoreProblem: as :func:`save_changes`.
    """
    _write(lambda _theirs: settings, path or settings_path())


def save_changes(before: Settings, after: Settings, path: Path | None = None) -> Settings:
    """Keep what has changed from ``before`` to ``after``, and leave all else as the file has it.

    Returns:
        The settings as they are kept now, with what other programs have changed.

    Raises:
        StoreProblem: the folder cannot be written, or another program holds the file for seconds.
    """

    def both(theirs: Settings | None) -> Settings:
        return after if theirs is None else merged(before, after, theirs)

    return _write(both, path or settings_path())


def _read(path: Path) -> tuple[Settings | None, str]:
    """Return what a file holds, None for nothing, and a sentence about what is wrong."""
    try:
        data = read_whole(path, LARGEST_FILE_BYTES)
        stored = json.loads(data.decode("utf-8-sig"), parse_int=_whole)
        if not isinstance(stored, dict):
            raise ValueError("it holds no table")
    except FileNotFoundError:
        return None, ""
    except (OSError, ValueError, RecursionError) as err:
        return None, _put_aside(path, err)
    settings, odd = from_table(stored)
    if not odd:
        return settings, ""
    note = f"the settings hold an unusable {', '.join(odd)}; what can be used instead is used"
    try:
        return settings, f"{note}, and they are kept as they were in {copy_aside(path, data).name}."
    except OSError:
        return settings, f"{note}."


def _whole(digits: str) -> int | None:
    # Python refuses to read numbers of thousands of digits; no setting has more than some.
    return int(digits) if len(digits) <= LONGEST_INT else None


def _put_aside(path: Path, err: Exception) -> str:
    why = err.strerror if isinstance(err, OSError) else str(err)
    try:
        aside = put_aside(path)
    except OSError:
        return f"the settings in {path} cannot be read ({why}); the usual ones are used."
    return f"the settings in {path} cannot be read ({why}); they are put aside as {aside.name}."


def _write(make: Callable[[Settings | None], Settings], path: Path) -> Settings:
    try:
        make_own_folder(path.parent)
        with locked(path):
            settings = make(_read(path)[0])
            text = json.dumps(as_table(settings), indent=2, ensure_ascii=False, sort_keys=True)
            # A lone surrogate, as names of ports can hold, has no UTF-8; its backslash form is JSON's own.
            with whole_file(path, errors="backslashreplace") as file:
                file.write(text + "\n")
    except OSError as err:
        raise StoreProblem(
            f"the settings cannot be kept in {path} ({err.strerror})",
            "free some space or mend the folder's rights; the program goes on without",
        ) from err
    return settings
