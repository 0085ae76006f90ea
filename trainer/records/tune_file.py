"""Read one file with a pattern, a break or a chart in it."""

from __future__ import annotations

import errno
from pathlib import Path

from trainer.errors import BadNotation, BadSettings, StoreProblem, TrainerError
from trainer.files import read_whole
from trainer.music.backup import BackupChart
from trainer.music.breaks import Break
from trainer.music.toml_text import MAX_FILE_BYTES
from trainer.music.tune_files import Tune, read_tune
from trainer.plain_text import is_clean

ENDING = ".toml"


def read_tune_file(path: Path) -> Tune:
    """Read one file of ours; its stem becomes the name.

    Raises:
        BadNotation: what is in it is no pattern, break or chart.
        BadSettings: there is no such file, or it is a folder.
        StoreProblem: it cannot be read.
    """
    return read_tune(read_tune_text(path), name=path.stem, source=str(path))


def read_tune_text(path: Path) -> str:
    """Read the text of one file of ours.

    Raises:
        BadNotation: it is too long, or no text, or its name can't be shown.
        BadSettings: there is no such file, or it is a folder.
        StoreProblem: it cannot be read.
    """
    if not exists(path):
        raise BadSettings(f'found no file "{path}"', "check the path")
    # A pipe or a device may never end, so only plain files are read.
    if not path.is_file():
        raise BadSettings(f'"{path}" is not a plain file', "give the path of a pattern file")
    if not is_clean(path.stem):
        raise BadNotation(
            source=str(path), line=1, column=1,
            problem="the file's name is not UTF-8, or holds a character that can't be shown",
            remedy="give it a name of letters, digits and hyphens",
        )  # fmt: skip
    try:
        data = read_whole(path, MAX_FILE_BYTES)
    except OSError as err:
        if err.errno != errno.EFBIG:
            raise StoreProblem(f"{path} cannot be read ({err.strerror})", "check its permissions") from err
        raise BadNotation(
            source=str(path), line=1, column=1,
            problem=f"the file is {path.stat().st_size} bytes long and at most {MAX_FILE_BYTES} are read",
            remedy="split it into several patterns",
        ) from err  # fmt: skip
    return _decode(data, str(path))


def try_read(path: Path) -> Tune | TrainerError:
    """Read one file of ours and return what is wrong with it instead of raising."""
    try:
        return read_tune_file(path)
    except (BadNotation, BadSettings, StoreProblem) as err:
        return err


def kind_word(tune: Tune) -> str:
    """Return what a file holds, in the word that its key ``kind`` uses."""
    if isinstance(tune, Break):
        return "break"
    return "chart" if isinstance(tune, BackupChart) else "pattern"


def exists(path: Path) -> bool:
    """Return whether there is such a file or folder."""
    # A name with a null character, or one that is too long, is an error to the system and no file to us.
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _decode(data: bytes, source: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as err:
        before = data[: err.start]
        line_start = before.rfind(b"\n") + 1
        line_end = data.find(b"\n", err.start)
        whole_line = data[line_start : line_end if line_end >= 0 else len(data)]
        raise BadNotation(
            source=source,
            line=before.count(b"\n") + 1,
            column=len(before[line_start:].decode("utf-8")) + 1,
            problem=f"found the byte {data[err.start]:02X}, which is not UTF-8 text",
            remedy="save the file as UTF-8",
            line_text=whole_line.decode("utf-8", errors="replace").rstrip("\r"),
        ) from err
