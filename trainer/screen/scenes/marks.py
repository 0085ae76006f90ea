"""Draw what was made of each stroke: by shape, by place and by colour, so that any one of them will do.

In time a disc; early and late a wedge that points the way the tap lies; missed a cross; wrong hand a
square; wrong string a square on its corner; a stray a plus; a skip kept silent its own ring, grown
heavy; a touched skip that ring with a bar through it down to the strings.
"""

from __future__ import annotations

from trainer.judging.take import Verdict
from trainer.screen.draw import Disc, Item, Polygon, Rect, Ring
from trainer.screen.theme import Colour, Theme

COLOUR_NAMES = {
    Verdict.IN_TIME: "in_time",
    Verdict.KEPT_SILENT: "in_time",
    Verdict.EARLY: "early",
    Verdict.LATE: "late",
    Verdict.MISSED: "slip",
    Verdict.TOUCHED: "slip",
    Verdict.WRONG_HAND: "other",
    Verdict.WRONG_STRING: "other",
    Verdict.STRAY: "other",
    Verdict.NOT_JUDGED: "quiet",
}


def verdict_colour(verdict: Verdict, theme: Theme) -> Colour:
    """Return a verdict's colour."""
    colour: Colour = getattr(theme, COLOUR_NAMES[verdict])
    return colour


def mark(verdict: Verdict, x: float, y: float, radius: float, theme: Theme) -> tuple[Item, ...]:
    """Return a verdict's mark round a point; ``radius`` is that of the disc for "in time"."""
    colour = verdict_colour(verdict, theme)
    if verdict is Verdict.IN_TIME:
        return (Disc(x, y, radius, colour),)
    if verdict is Verdict.EARLY:
        return (_wedge(x, y, -radius, colour),)
    if verdict is Verdict.LATE:
        return (_wedge(x, y, radius, colour),)
    if verdict is Verdict.MISSED:
        return _cross(x, y, 1.15 * radius, 0.34 * radius, colour)
    if verdict is Verdict.STRAY:
        return _plus(x, y, 1.1 * radius, 0.32 * radius, colour)
    if verdict is Verdict.WRONG_HAND:
        return (Polygon(_square(x, y, 1.05 * radius), colour),)
    if verdict is Verdict.WRONG_STRING:
        return (Polygon(_diamond(x, y, 0.85 * radius, 1.5 * radius), colour),)
    if verdict is Verdict.KEPT_SILENT:
        return (Ring(x, y, 1.25 * radius, 0.5 * radius, colour),)
    if verdict is Verdict.TOUCHED:
        bar = max(1, round(0.4 * radius))
        high = round(3.2 * radius)
        return (
            Ring(x, y, 1.1 * radius, 0.34 * radius, colour),
            Rect(round(x - bar / 2), round(y) - high // 2, bar, high, colour),
        )
    return (Disc(x, y, 0.4 * radius, colour),)


def _wedge(x: float, y: float, reach: float, colour: Colour) -> Polygon:
    """Return a wedge whose blunt side holds the moment and whose tip points early or late."""
    back, tip, half = x - 0.55 * reach, x + 1.35 * reach, 1.1 * abs(reach)
    return Polygon(((back, y - half), (tip, y), (back, y + half)), colour)


def _square(x: float, y: float, half: float) -> tuple[tuple[float, float], ...]:
    return ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))


def _diamond(x: float, y: float, wide: float, high: float) -> tuple[tuple[float, float], ...]:
    # Higher than wide: when small and without its colour it would else look like the disc.
    return ((x, y - high), (x + wide, y), (x, y + high), (x - wide, y))


def _cross(x: float, y: float, reach: float, half: float, colour: Colour) -> tuple[Item, ...]:
    """Return two bars that cross slantwise."""
    r, h = reach * 0.72, half * 0.72
    down = ((x - r - h, y - r + h), (x - r + h, y - r - h), (x + r + h, y + r - h), (x + r - h, y + r + h))
    up = ((x - r - h, y + r - h), (x - r + h, y + r + h), (x + r + h, y - r + h), (x + r - h, y - r - h))
    return (Polygon(down, colour), Polygon(up, colour))


def _plus(x: float, y: float, reach: float, half: float, colour: Colour) -> tuple[Item, ...]:
    wide, thick = max(1, round(2 * reach)), max(1, round(2 * half))
    return (
        Rect(round(x - reach), round(y - half), wide, thick, colour),
        Rect(round(x - half), round(y - reach), thick, wide, colour),
    )
