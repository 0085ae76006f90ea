"""Put what is drawn somewhere else, or upside down."""

from __future__ import annotations

from dataclasses import replace

from trainer.screen.draw import Disc, Item, Polygon, Polyline, Rect, Ring, Text
from trainer.screen.lettering import CAPITAL


def upside_down(item: Item, both: float, bottom: float) -> Item:
    """Return a thing mirrored about the middle of a picture; what lies under it stays.

    Args:
        both: top and bottom of the picture added up, in pixels.
        bottom: its lower edge.
    """
    if isinstance(item, Polyline | Polygon):
        if min(y for _, y in item.points) > bottom:
            return item
        return replace(item, points=tuple((x, both - y) for x, y in item.points))
    if item.y > bottom:
        return item
    if isinstance(item, Rect):
        return replace(item, y=round(both) - item.y - item.h)
    if isinstance(item, Text):
        # Letters stay upright; the middle of a capital goes where it belongs.
        return replace(item, y=round(both - item.y + CAPITAL * item.size))
    return replace(item, y=both - item.y)


def moved(item: Item, dx: int, dy: int) -> Item:
    """Return a thing drawn somewhere else."""
    if isinstance(item, Polyline | Polygon):
        return replace(item, points=tuple((x + dx, y + dy) for x, y in item.points))
    if isinstance(item, Rect):
        return replace(item, x=item.x + dx, y=item.y + dy)
    if isinstance(item, Text):
        return replace(item, x=item.x + dx, y=item.y + dy)
    if isinstance(item, Disc | Ring):
        return replace(item, x=item.x + dx, y=item.y + dy)
    raise TypeError(f"nothing moves a {type(item).__name__}")
