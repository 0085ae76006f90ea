"""Draw what was made of each stroke: by shape, by place and by colour, so that any one of them will do.

In time a disc; early and late a wedge that points the way the tap lies; missed a cross; wrong hand a
square; wrong string a square on its corner; a stray a plus; a skip kept silent its own ring, grown
heavy; a touched skip that ring with a bar through it down to the strings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from trainer.judging.take import Verdict
from trainer.screen.draw import Disc, Item, Polygon, Rect, Ring
from trainer.screen.theme import Colour, Theme

Draw = Callable[[float, float, float, Colour], tuple[Item, ...]]
"""Draws a mark round a point in a colour; the third number is the radius of the disc for "in time"."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a verdict looks.

    Attributes:
        colour: the name of its colour in the theme.
        draw: its shape.
        words: what the shape means, in the list of signs.
        in_legend: whether the review counts it.
    """

    colour: str
    draw: Draw
    words: str
    in_legend: bool = True


def verdict_colour(verdict: Verdict, theme: Theme) -> Colour:
    """Return a verdict's colour."""
    colour: Colour = getattr(theme, LOOKS[verdict].colour)
    return colour


def mark(verdict: Verdict, x: float, y: float, radius: float, theme: Theme) -> tuple[Item, ...]:
    """Return a verdict's mark round a point; ``radius`` is that of the disc for "in time"."""
    return LOOKS[verdict].draw(x, y, radius, verdict_colour(verdict, theme))


def _disc(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return (Disc(x, y, radius, colour),)


def _dot(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return (Disc(x, y, 0.4 * radius, colour),)


def _early(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return (_wedge(x, y, -radius, colour),)


def _late(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return (_wedge(x, y, radius, colour),)


def _missed(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return _cross(x, y, 1.15 * radius, 0.34 * radius, colour)


def _stray(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return _plus(x, y, 1.1 * radius, 0.32 * radius, colour)


def _wrong_hand(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return (Polygon(_square(x, y, 1.05 * radius), colour),)


def _wrong_string(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return (Polygon(_diamond(x, y, 0.85 * radius, 1.5 * radius), colour),)


def _kept_silent(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    return (Ring(x, y, 1.25 * radius, 0.5 * radius, colour),)


def _touched(x: float, y: float, radius: float, colour: Colour) -> tuple[Item, ...]:
    bar, high = max(1, round(0.4 * radius)), round(3.2 * radius)
    return (
        Ring(x, y, 1.1 * radius, 0.34 * radius, colour),
        Rect(round(x - bar / 2), round(y) - high // 2, bar, high, colour),
    )


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


LOOKS: Mapping[Verdict, Look] = {
    Verdict.IN_TIME: Look("in_time", _disc, "in time"),
    Verdict.KEPT_SILENT: Look("in_time", _kept_silent, "skip kept silent"),
    Verdict.EARLY: Look("early", _early, "early: the tip points to where it lies"),
    Verdict.LATE: Look("late", _late, "late"),
    Verdict.MISSED: Look("slip", _missed, "missed"),
    Verdict.TOUCHED: Look("slip", _touched, "skip touched"),
    Verdict.WRONG_HAND: Look("other", _wrong_hand, "thumb for nail, or nail for thumb"),
    Verdict.WRONG_STRING: Look("other", _wrong_string, "another string"),
    Verdict.STRAY: Look("other", _stray, "a tap that no stroke asked for"),
    Verdict.NOT_JUDGED: Look("muted", _dot, "not judged: not heard by this input", in_legend=False),
}
"""Every verdict there is, in the order of the review's legend; its word is the verdict's own value."""
