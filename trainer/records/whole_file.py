"""Write a file whole or not at all, and know the folder that is the user's own."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TextIO

from platformdirs import user_data_dir


def data_folder() -> Path:
    """Return the folder for what belongs to the user; it may not exist yet."""
    return Path(user_data_dir("thumbfall", appauthor=False))


@contextmanager
def whole_file(path: Path, *, errors: str = "strict", newline: str | None = None) -> Iterator[TextIO]:
    """Give a UTF-8 file to write that takes its place only when all of it is on the disk.

    Args:
        errors, newline: as ``open`` has them.

    Raises:
        OSError: it cannot be written; what stood there before stands there still.
    """
    fresh = path.with_name(path.name + ".new")
    try:
        with fresh.open("w", encoding="utf-8", errors=errors, newline=newline) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)
