"""Write rows as a CSV file (RFC 4180, UTF-8), whole or not at all, with no cell that is a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from trainer.errors import StoreProblem
from trainer.files import SHARED, write_whole
from trainer.records.csv_cells import Cell, written


def write_csv_file(path: Path, rows: Iterable[Sequence[Cell]]) -> None:
    """Write rows, the names of the columns first.

    Raises:
        StoreProblem: the file cannot be written.
    """
    text = io.StringIO()
    csv.writer(text).writerows([written(cell) for cell in row] for row in rows)
    try:
        write_whole(path, text.getvalue().encode("utf-8", "backslashreplace"), mode=SHARED)
    except OSError as err:
        raise StoreProblem(f"{path} cannot be written ({err.strerror})", "choose another place") from err
