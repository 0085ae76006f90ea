"""Show a folder in the system's own file manager, without a shell."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from trainer.errors import StoreProblem

OPENERS = {"darwin": "open", "win32": "explorer"}
USUAL_OPENER = "xdg-open"  # of freedesktop.org


def show_folder(folder: Path, *, platform: str = sys.platform) -> None:
    """Ask the system to show a folder; what it does then is its own affair.

    Raises:
        StoreProblem: the program for it is not there.
    """
    opener = OPENERS.get(platform, USUAL_OPENER)
    try:
        # Its exit code says nothing: explorer's is 1 when all went well.
        subprocess.Popen(
            [opener, str(folder)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError as err:
        raise StoreProblem(
            f"{folder} cannot be shown: {opener} does not start ({err.strerror})", "open it by hand"
        ) from err
