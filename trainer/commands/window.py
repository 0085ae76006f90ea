"""Open the window, whichever command asks for it."""

from __future__ import annotations

import gc
import os
import sys

from trainer.opening import Opening
from trainer.records.library import load_library, open_pattern


def open_window(opening: Opening) -> int:
    """Open the window and return the exit code when it is closed.

    Raises:
        NoDisplay: there is no window library or no display.
        TrainerError: the pattern, the tempo or the input cannot be used.
    """
    if opening.pattern is not None:
        open_pattern(opening.pattern, load_library())  # a wrong name is said before the lack of a display
    # What is loaded stays: to look through it for what has gone, again and again, takes a tenth of the start.
    gc.disable()
    try:
        from trainer.app import loop  # loads the window library
    finally:
        gc.freeze()
        gc.enable()
    return loop.open_window(opening)


def has_display() -> bool:
    """Return whether the system says that there is a display to open a window on."""
    if sys.platform.startswith("linux") or "bsd" in sys.platform:
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return True
