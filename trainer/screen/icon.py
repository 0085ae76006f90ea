"""Draw the program's icon: a hand's path that falls to a string, then falls and touches nothing."""

from __future__ import annotations

import numpy as np

from trainer.music.strokes import Kind, Motion
from trainer.screen.draw import Item, Polyline, Rect, Ring
from trainer.screen.hand_path import Slot, path_of
from trainer.screen.theme import ROOM

GROUND_SHARE = 0.20  # how far the corners are rounded
STRINGS_AT = (0.56, 0.69, 0.82)


def icon_items(size: int) -> tuple[Item, ...]:
    """Return the icon in a square of ``size`` pixels; its corners stay free."""
    line = size / 64
    slots = (
        Slot(-0.5, Motion.UP, Kind.REST),
        Slot(0.0, Motion.DOWN, Kind.STRIKE, (2,)),
        Slot(0.5, Motion.UP, Kind.REST),
        Slot(1.0, Motion.DOWN, Kind.SKIP),
        Slot(1.5, Motion.UP, Kind.REST),
    )
    path = path_of(slots)
    beats = np.linspace(-0.26, 1.5, 90)
    heights = path.heights(beats)
    # The path's heights 1 (the string struck) to 7 (the turn in the air) are fitted to the square.
    xs = (0.13 + 0.74 * (beats + 0.26) / 1.76) * size
    ys = (STRINGS_AT[1] - (heights - 1.0) / 6.0 * 0.53) * size
    widths = (3.4 + 3.2 * np.exp(-((beats / 0.16) ** 2))) * line
    skip_x = (0.13 + 0.74 * 1.26 / 1.76) * size
    skip_y = (STRINGS_AT[1] - 4.0 / 6.0 * 0.53) * size
    strings = tuple(
        Rect(
            round(0.13 * size),
            round(y * size - line),
            round(0.74 * size),
            max(1, round(2 * line)),
            ROOM.string,
        )
        for y in STRINGS_AT
    )
    points = tuple(zip(xs.tolist(), ys.tolist(), strict=True))
    return (
        Rect(0, 0, size, size, ROOM.sheet, round(GROUND_SHARE * size)),
        *strings,
        Polyline(points, tuple(widths.tolist()), ROOM.ink),
        Polyline(((skip_x - 0.01, skip_y), (skip_x, skip_y)), (13 * line,), ROOM.sheet),
        Ring(skip_x, skip_y, 6.5 * line, 2.8 * line, ROOM.now),
    )
