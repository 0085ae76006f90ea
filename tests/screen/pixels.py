"""Measure scenes from the pixels that the real painter makes: contrast, coverage, colour vision.

WCAG's formulas are written anew here (WCAG 2.2, "relative luminance" and "contrast ratio") over arrays, so
that the theme's own figures are not checked by themselves.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pygame
from numpy.typing import NDArray

from trainer.screen.draw import Disc, Item, Panel, Polygon, Polyline, Rect, Ring, Scene, Text
from trainer.screen.painter import FADED_SHARE, Painter
from trainer.screen.theme import Colour, Theme

FONTS = Path(__file__).parents[2] / "assets" / "fonts"
Pixels = NDArray[np.float64]
MEANINGS = ("in_time", "early", "late", "slip", "other", "now", "focus", "ink", "string", "pocket_edge")


def painted(scene: Scene, width: int, height: int) -> NDArray[np.uint8]:
    """The whole scene by the real painter, shape (width, height, 3)."""
    surface = pygame.display.set_mode((width, height))
    Painter(surface, FONTS).paint(scene)
    return pygame.surfarray.array3d(surface)


def linear(values: Pixels) -> Pixels:
    """Channels 0 to 255 as linear light 0 to 1: WCAG 2.2, "relative luminance"."""
    c = np.asarray(values, dtype=np.float64) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def luminance(values: Pixels) -> Pixels:
    return linear(values) @ np.array([0.2126, 0.7152, 0.0722])


def contrast(one: Pixels, other: Pixels) -> Pixels:
    """WCAG 2.2, "contrast ratio": (L1 + 0.05) / (L2 + 0.05)."""
    a, b = luminance(one) + 0.05, luminance(other) + 0.05
    return np.maximum(a, b) / np.minimum(a, b)


def moved(item: Item, dx: float, dy: float) -> Item:
    """The item somewhere else; whole pixels keep its form."""
    if isinstance(item, Polyline | Polygon):
        return replace(item, points=tuple((x + dx, y + dy) for x, y in item.points))
    return replace(item, x=item.x + dx, y=item.y + dy)  # type: ignore[arg-type]  # fractions of a pixel too


def box_of(item: Item, painter: Painter) -> tuple[int, int, int, int]:
    """Left, top, width and height of all pixels that the item can touch."""
    if isinstance(item, Text):
        x, y, w, h = painter.text_size(item)
        return x - 2, y - 2, w + 4, h + 4
    if isinstance(item, Rect):
        return item.x, item.y, item.w, item.h
    if isinstance(item, Disc | Ring):
        r = int(item.radius) + 3
        return round(item.x) - r, round(item.y) - r, 2 * r, 2 * r
    reach = max(item.widths) / 2 if isinstance(item, Polyline) else 0
    xs, ys = [x for x, _ in item.points], [y for _, y in item.points]
    left, top = int(min(xs) - reach) - 3, int(min(ys) - reach) - 3
    return left, top, int(max(xs) + reach) + 4 - left, int(max(ys) + reach) + 4 - top


@dataclass(frozen=True)
class Seen:
    """One text or mark as it stands in the picture.

    Attributes:
        contrasts: of a text, its colour against each pixel it covers as that was before; of a mark, its
            colour against each pixel round the part of it that is seen in the end, its own colour left out.
        faded: whether it stands in the part of the sheet that has passed.
    """

    item: Item
    panel: Panel
    contrasts: Pixels
    faded: bool


@dataclass(frozen=True)
class _Placed:
    item: Item
    left: int
    top: int
    core: NDArray[np.bool_]
    behind: Pixels


class Layers:
    """A canvas that items are put on one by one, with a look at what lies behind each."""

    def __init__(self, x: int, y: int, w: int, h: int, colour: Colour, painter: Painter) -> None:
        self.x, self.y = x, y
        self.pixels = np.empty((w, h, 3))
        self.pixels[:] = colour
        self.placed: list[_Placed] = []
        self._painter = painter

    def put(self, item: Item) -> None:
        """Put an item on, and remember where it covers at least half a pixel and what was there."""
        left, top, w, h = box_of(item, self._painter)
        x0, y0 = max(left, self.x), max(top, self.y)
        x1 = min(left + w, self.x + self.pixels.shape[0])
        y1 = min(top + h, self.y + self.pixels.shape[1])
        if x0 >= x1 or y0 >= y1:
            return
        picture = self._painter.picture((moved(item, -left, -top),), w, h)
        part = (slice(x0 - left, x1 - left), slice(y0 - top, y1 - top))
        cover = pygame.surfarray.array_alpha(picture)[part].astype(np.float64) / 255
        there = self.pixels[x0 - self.x : x1 - self.x, y0 - self.y : y1 - self.y]
        core = cover > 0.5
        if core.any():
            self.placed.append(_Placed(item, x0 - self.x, y0 - self.y, core, there[core].copy()))
        there[:] = there + (np.array(item.colour) - there) * cover[..., None]

    def measured(self, panel: Panel, ground: Colour, *, faded: bool) -> Iterator[Seen]:
        """Everything that was put on, as it is seen now that all is there."""
        for placed in self.placed:
            ink = np.array(placed.item.colour, dtype=np.float64)
            around = placed.behind if isinstance(placed.item, Text) else self._around(placed, ink)
            if faded:
                ink, around = _faded(ink, ground), _faded(around, ground)
            if len(around):
                yield Seen(placed.item, panel, np.asarray(contrast(ink, around)), faded)

    def _around(self, placed: _Placed, ink: Pixels) -> Pixels:
        """The pixels two beyond the rim of what is left to see of a mark."""
        w, h = placed.core.shape
        x, y = placed.left, placed.top
        x0, y0 = max(x - 3, 0), max(y - 3, 0)
        near = self.pixels[x0 : x + w + 3, y0 : y + h + 3]
        own = np.zeros(near.shape[:2], dtype=bool)
        own[x - x0 : x - x0 + w, y - y0 : y - y0 + h] = placed.core
        own &= np.abs(near - ink).max(axis=2) < 8  # else something else was put over it
        rim = grown(grown(grown(own))) & ~grown(grown(own))
        around = near[rim]
        # Of its own colour: the next piece of the same form.
        return np.asarray(around[np.abs(around - ink).max(axis=1) >= 8]) if own.any() else around[:0]


def grown(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """A mask and the pixels beside it."""
    larger = mask.copy()
    larger[1:] |= mask[:-1]
    larger[:-1] |= mask[1:]
    larger[:, 1:] |= mask[:, :-1]
    larger[:, :-1] |= mask[:, 1:]
    return larger


def seen(scene: Scene, painter: Painter) -> Iterator[Seen]:
    """Everything in a scene with what lies behind or beside it, pictures of the moving sheet included."""
    for panel in scene.panels:
        if not panel.w * panel.h:
            continue
        canvas = Layers(panel.x, panel.y, panel.w, panel.h, panel.colour, painter)
        for strip in panel.strips:
            if strip.x + strip.w <= panel.x or strip.x >= panel.x + panel.w:
                continue
            own = Layers(0, 0, strip.w, strip.h, strip.colour, painter)
            for item in strip.picture.items():
                own.put(item)
            faded = panel.dim_before is not None and strip.x + strip.w <= panel.dim_before
            yield from own.measured(panel, strip.colour, faded=faded)
            _blit(canvas, own.pixels, strip.x, strip.y, panel.dim_before, strip.colour)
        for item in panel.items:
            canvas.put(item)
        yield from canvas.measured(panel, panel.colour, faded=False)


def composed(scene: Scene, width: int, height: int, painter: Painter) -> Pixels:
    """The scene put together from the same layers that :func:`seen` measures."""
    whole = np.zeros((width, height, 3))
    for panel in scene.panels:
        if not panel.w * panel.h:
            continue
        canvas = Layers(panel.x, panel.y, panel.w, panel.h, panel.colour, painter)
        for strip in panel.strips:
            own = Layers(0, 0, strip.w, strip.h, strip.colour, painter)
            for item in strip.picture.items():
                own.put(item)
            _blit(canvas, own.pixels, strip.x, strip.y, panel.dim_before, strip.colour)
        for item in panel.items:
            canvas.put(item)
        whole[panel.x : panel.x + panel.w, panel.y : panel.y + panel.h] = canvas.pixels
    return whole


def _faded(values: Pixels, ground: Colour) -> Pixels:
    return values + (np.array(ground) - values) * (FADED_SHARE / 255)


def _blit(canvas: Layers, picture: Pixels, x: int, y: int, dim_before: int | None, ground: Colour) -> None:
    shown = picture
    if dim_before is not None and x < dim_before:
        shown = picture.copy()
        cut = min(dim_before - x, len(shown))
        shown[:cut] = _faded(shown[:cut], ground)
    x0, y0 = max(x, canvas.x), max(y, canvas.y)
    x1 = min(x + shown.shape[0], canvas.x + canvas.pixels.shape[0])
    y1 = min(y + shown.shape[1], canvas.y + canvas.pixels.shape[1])
    if x0 < x1 and y0 < y1:
        canvas.pixels[x0 - canvas.x : x1 - canvas.x, y0 - canvas.y : y1 - canvas.y] = shown[
            x0 - x : x1 - x, y0 - y : y1 - y
        ]


def meanings(theme: Theme) -> dict[Colour, str]:
    """The colours that say something, with their names."""
    return {getattr(theme, name): name for name in MEANINGS}


# Machado, Oliveira & Fernandes 2009 (IEEE TVCG 15:1291), severity 1.0, on linear RGB. From memory; each row
# must sum to one, so that greys stay grey, which a test checks.
COLOUR_VISION = {
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def as_seen_with(vision: str, colour: Colour) -> Pixels:
    """A colour's linear light as someone with that colour vision sees it, clipped to what a screen shows."""
    return np.clip(COLOUR_VISION[vision] @ linear(np.array(colour, dtype=np.float64)), 0, 1)


def lab(light: Pixels) -> Pixels:
    """CIE L*a*b* of linear sRGB light, white D65 (CIE 15:2004; the sRGB matrix of IEC 61966-2-1)."""
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    ratio = to_xyz @ light / np.array([0.9505, 1.0, 1.0890])
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])
