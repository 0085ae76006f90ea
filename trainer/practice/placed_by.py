"""Name what the strokes of a take were placed against."""

from __future__ import annotations

from enum import Enum


class PlacedBy(Enum):
    """What tells when a stroke was: its own tap; where a microphone heard it, the click or the delay kept."""

    TAPS = ""
    CLICK = "click"
    DELAY = "delay"
