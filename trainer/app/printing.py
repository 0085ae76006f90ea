"""Write a pattern's page for a printer beside the window: in a process of its own, so that nothing stops."""

from __future__ import annotations

import subprocess
from importlib.util import find_spec
from pathlib import Path

from trainer.devices.own_process import started
from trainer.errors import StoreProblem
from trainer.music.pattern import Pattern
from trainer.records.library import user_patterns_folder

SHEETS = "sheets"  # beside the user's own patterns
LONGEST_NAME = 80


class Printing:
    """A page that is being written by ``thumbfall sheet``; every method returns at once.

    Args:
        pattern: what is written; it is opened again by its name.
        string_1_on_top: whether the strings stand with string 1 on top.

    Raises:
        StoreProblem: the folder or the process cannot be made.
    """

    def __init__(
        self, pattern: Pattern, *, string_1_on_top: bool = False, folder: Path | None = None
    ) -> None:
        self.path = _place(pattern, user_patterns_folder().parent / SHEETS if folder is None else folder)
        where = "top" if string_1_on_top else "bottom"
        try:
            self._process: subprocess.Popen[bytes] = started(
                "trainer", "sheet", pattern.name, "--to", str(self.path), "--string-1", where
            )
        except (OSError, ValueError) as err:
            raise StoreProblem(f"no page can be written ({err})", "use thumbfall sheet") from err

    def poll(self) -> Path | None:
        """Return where the page is once it is written; None before.

        Raises:
            StoreProblem: it could not be written.
        """
        if self._process.poll() is None:
            return None
        _out, said = self._process.communicate()
        if self._process.returncode:
            words = said.decode("utf-8", "replace").strip().splitlines()
            raise StoreProblem(
                f"the page was not written ({words[-1] if words else 'no reason is given'})",
                "use thumbfall sheet",
            )
        return self.path

    def give_up(self) -> None:
        """Write no further; half a file never stays."""
        if self._process.poll() is None:
            self._process.kill()
        self._process.communicate()


def _place(pattern: Pattern, folder: Path) -> Path:
    """Return the file for a pattern's page: a PDF, or a PNG without its library."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise StoreProblem(
            f"{folder} cannot be made ({err.strerror})", "make room, or use thumbfall sheet"
        ) from err
    name = "".join(c if c.isalnum() or c in "-_" else "-" for c in pattern.name)[:LONGEST_NAME]
    return folder / f"{name}.{'pdf' if find_spec('fpdf') is not None else 'png'}"
