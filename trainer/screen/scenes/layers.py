"""Say what of a sheet can be hidden, one layer at a time."""

from __future__ import annotations

import enum


class SheetLayer(enum.Enum):
    """What the sheet can show or hide; the value is its name on the screen."""

    PATH = "hand"
    STRINGS = "strings"
    TAPS = "taps"
    CHORDS = "chords"
