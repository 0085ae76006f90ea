"""Paint scenes onto a pygame surface, in slices short enough to look at the keys in between.

Three things make it cheap. A panel that is equal to the one painted before it is left alone. A strip's
picture is painted once and then copied. A text or a small shape is made once and kept. Only the panels
that were painted are handed to the display.

Belongs to the thread that made the window.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from pathlib import Path

import numpy as np

from trainer.plain_text import drawable
from trainer.screen.draw import (
    Anchor,
    Disc,
    Item,
    Panel,
    Picture,
    Polygon,
    Polyline,
    Rect,
    Ring,
    Scene,
    Strip,
    Text,
)
from trainer.screen.shapes import Coverage, bounds, disc, polygon, polygon_corner, polyline
from trainer.screen.theme import Colour
from trainer.sdl import pygame

SLICE_S = 0.001
FADED_SHARE = 107  # of 255: how far a strip that has passed fades; its words still keep 4.5:1
MOST_PICTURE_BYTES = 256 * 1024 * 1024
MOST_SPRITES = 3000
MOST_SPRITE_BYTES = 4 << 20
SPRITE_FRAMES = 30 * 60
REGULAR = "IBMPlexSans-Regular.ttf"
BOLD = "IBMPlexSans-SemiBold.ttf"


class Painter:
    """Paints one surface."""

    def __init__(self, surface: pygame.Surface, fonts: Path) -> None:
        """Begin with a surface and the folder that holds the two shipped fonts."""
        pygame.font.init()
        self._fonts_folder = fonts
        self._fonts: dict[tuple[int, bool], pygame.font.Font] = {}
        self._sprites: dict[Hashable, pygame.Surface] = {}
        self._older_sprites: dict[Hashable, pygame.Surface] = {}
        self._sprite_bytes = 0  # of those used since then
        self._shown = 0  # frames since the sprites were gone through
        self._pictures: OrderedDict[Hashable, tuple[pygame.Surface, pygame.Surface]] = OrderedDict()
        self._picture_bytes = 0
        self._painted: dict[tuple[int, int, int, int], Panel] = {}
        self._dirty: list[pygame.Rect] = []
        self._surface = surface

    def resize(self, surface: pygame.Surface) -> None:
        """Paint another surface from now on, all of it."""
        self._surface = surface
        self._painted.clear()
        self._dirty.clear()

    def show_all(self) -> None:
        """Show the whole picture with the next flip, for the system may have lost what it had of it."""
        self._dirty.append(self._surface.get_rect())

    def paint(self, scene: Scene) -> None:
        """Paint a scene in one go."""
        for _slice in self.paint_slices(scene):
            pass

    def paint_slices(self, scene: Scene) -> Iterator[None]:
        """Paint a scene, giving the caller a turn every millisecond or so; :meth:`flip` shows it."""
        # The first turn comes at once: the caller has just spent time on making the scene.
        yield
        clock = _Slices()
        boxes = {(p.x, p.y, p.w, p.h) for p in scene.panels}
        if boxes != set(self._painted):
            self._painted.clear()
        for panel in scene.panels:
            box = (panel.x, panel.y, panel.w, panel.h)
            if self._painted.get(box) == panel:
                continue
            # Forgotten until it is whole, so that a scene given up half-way is painted anew.
            self._painted.pop(box, None)
            yield from self._paint_panel(panel, clock)
            self._painted[box] = panel
            self._dirty.append(pygame.Rect(box))
        yield from self._prepare_one(scene, clock)

    def flip(self) -> None:
        """Show what was painted since the last call."""
        self._forget_sprites()
        if self._dirty:
            # A list, not one rectangle: pygame lets other threads run only for a list.
            pygame.display.update(self._dirty)
            self._dirty.clear()

    @property
    def held(self) -> int:
        """How many small pictures are kept."""
        return len(self._sprites) + len(self._older_sprites)

    def picture(self, items: tuple[Item, ...], width: int, height: int) -> pygame.Surface:
        """Return a picture with a clear ground, such as the icon."""
        surface = pygame.Surface((width, height), pygame.SRCALPHA)
        for item in items:
            for _slice in self._paint_item(surface, item, _Slices()):
                pass
        return surface

    def text_size(self, text: Text) -> tuple[int, int, int, int]:
        """Return the rectangle that a text's ink can touch: x, y, width, height."""
        width = self._font(text.size, text.bold).size(drawable(text.text))[0]
        x = _left_of(text, width)
        font = self._font(text.size, text.bold)
        return x, text.y - font.get_ascent(), width, font.get_height()

    # Panels and pictures

    def _paint_panel(self, panel: Panel, clock: _Slices) -> Iterator[None]:
        surface = self._surface
        area = pygame.Rect(panel.x, panel.y, panel.w, panel.h)
        for strip in panel.strips:
            if _is_seen(strip, panel) and strip.picture not in self._pictures:
                yield from self._make_picture(strip, clock)
        surface.set_clip(area)
        whole = sum(s.w for s in panel.strips if _is_seen(s, panel) and s.y == panel.y and s.h == panel.h)
        if whole < panel.w:
            surface.fill(panel.colour, area)
        for strip in panel.strips:
            if _is_seen(strip, panel):
                surface.set_clip(area)
                self._copy_strip(strip, panel)
                if clock.is_over():
                    surface.set_clip(None)
                    yield
        for item in panel.items:
            surface.set_clip(area)
            yield from self._paint_item(surface, item, clock)
            if clock.is_over():
                surface.set_clip(None)
                yield
        surface.set_clip(None)

    def _copy_strip(self, strip: Strip, panel: Panel) -> None:
        bright, faded = self._pictures[strip.picture]
        self._pictures.move_to_end(strip.picture)
        at = panel.dim_before
        if at is None or strip.x >= at:
            self._surface.blit(bright, (strip.x, strip.y))
        elif strip.x + strip.w <= at:
            self._surface.blit(faded, (strip.x, strip.y))
        else:
            cut = at - strip.x
            self._surface.blit(faded, (strip.x, strip.y), (0, 0, cut, strip.h))
            self._surface.blit(bright, (at, strip.y), (cut, 0, strip.w - cut, strip.h))

    def _make_picture(self, strip: Strip, clock: _Slices) -> Iterator[None]:
        bright = pygame.Surface((strip.w, strip.h)).convert(self._surface)
        bright.fill(strip.colour)
        for item in strip.picture.items():
            yield from self._paint_item(bright, item, clock)
            if clock.is_over():
                yield
        faded = bright.copy()
        veil = pygame.Surface((strip.w, strip.h)).convert(self._surface)
        veil.fill(strip.colour)
        veil.set_alpha(FADED_SHARE)
        faded.blit(veil, (0, 0))
        self._keep_picture(strip.picture, bright, faded)

    def _keep_picture(self, picture: Picture, bright: pygame.Surface, faded: pygame.Surface) -> None:
        self._pictures[picture] = (bright, faded)
        self._picture_bytes += _bytes_of(bright) + _bytes_of(faded)
        while self._picture_bytes > MOST_PICTURE_BYTES and len(self._pictures) > 1:
            _name, (old, old_faded) = self._pictures.popitem(last=False)
            self._picture_bytes -= _bytes_of(old) + _bytes_of(old_faded)

    def _prepare_one(self, scene: Scene, clock: _Slices) -> Iterator[None]:
        """Paint one picture that will come into view, so that no frame has to wait for it."""
        for panel in scene.panels:
            for strip in panel.strips:
                if strip.picture not in self._pictures and not _is_empty(strip):
                    yield from self._make_picture(strip, clock)
                    return

    # Items

    def _paint_item(self, surface: pygame.Surface, item: Item, clock: _Slices) -> Iterator[None]:
        if isinstance(item, Rect):
            if item.radius <= 0:
                _fill(surface, item.colour, item.x, item.y, item.w, item.h)
            else:
                self._rounded(surface, item)
        elif isinstance(item, Text):
            self._text(surface, item)
        elif isinstance(item, Disc):
            key: Hashable = ("disc", item.radius, item.colour)
            sprite = self._sprite(key, lambda: _coloured(disc(item.radius), item.colour))
            _put_centred(surface, sprite, item.x, item.y)
        elif isinstance(item, Ring):
            key = ("ring", item.radius, item.width, item.colour)
            sprite = self._sprite(key, lambda: _coloured(disc(item.radius, item.width), item.colour))
            _put_centred(surface, sprite, item.x, item.y)
        elif isinstance(item, Polygon):
            self._polygon(surface, item)
        else:
            yield from self._polyline(surface, item, clock)

    def _polyline(self, surface: pygame.Surface, line: Polyline, clock: _Slices) -> Iterator[None]:
        box = bounds(line.points, line.widths)
        clip = surface.get_clip()
        seen = pygame.Rect(box).clip(clip)
        if seen.w == 0 or seen.h == 0:
            return
        stages = polyline(line.points, line.widths, box=(seen.x, seen.y, seen.w, seen.h))
        cover = next(stages)
        for more in stages:
            cover = more
            if clock.is_over():
                yield
        surface.set_clip(clip)
        surface.blit(_coloured(cover, line.colour), (seen.x, seen.y))

    def _polygon(self, surface: pygame.Surface, shape: Polygon) -> None:
        # Kept by its form, so that a mark that moves along with the sheet is made once.
        x, y = round(shape.points[0][0]), round(shape.points[0][1])
        first_x, first_y = shape.points[0]
        form = tuple((px - first_x, py - first_y) for px, py in shape.points)
        rounded = tuple((round(px, 1), round(py, 1)) for px, py in form)
        left, top = polygon_corner(rounded)
        sprite = self._sprite(
            ("polygon", rounded, shape.colour), lambda: _coloured(polygon(rounded), shape.colour)
        )
        surface.blit(sprite, (x + left, y + top))

    def _rounded(self, surface: pygame.Surface, rect: Rect) -> None:
        radius = min(rect.radius, rect.w // 2, rect.h // 2)
        key = ("corner", radius, rect.colour)
        ball = self._sprite(key, lambda: _coloured(_corners(radius), rect.colour))
        inner_w, inner_h = rect.w - 2 * radius, rect.h - 2 * radius
        _fill(surface, rect.colour, rect.x + radius, rect.y, inner_w, rect.h)
        _fill(surface, rect.colour, rect.x, rect.y + radius, rect.w, inner_h)
        for across in (0, 1):
            for down in (0, 1):
                corner = (across * radius, down * radius, radius, radius)
                x = rect.x + across * (rect.w - radius)
                y = rect.y + down * (rect.h - radius)
                surface.blit(ball, (x, y), corner)

    def _text(self, surface: pygame.Surface, text: Text) -> None:
        if not text.text:
            return
        # A null or half a character stops a font; a name of a port or a file can hold either.
        words = drawable(text.text)
        font = self._font(text.size, text.bold)
        key = (words, text.size, text.bold, text.colour)
        run = self._sprite(key, lambda: font.render(words, True, text.colour))
        surface.blit(run, (_left_of(text, run.get_width()), text.y - font.get_ascent()))

    def _font(self, size: int, bold: bool) -> pygame.font.Font:
        key = (size, bold)
        if key not in self._fonts:
            self._fonts[key] = pygame.font.Font(str(self._fonts_folder / (BOLD if bold else REGULAR)), size)
        return self._fonts[key]

    def _sprite(self, key: Hashable, make: Callable[[], pygame.Surface]) -> pygame.Surface:
        """Return a small picture, made once and kept while it is used."""
        found = self._sprites.get(key)
        if found is None:
            older = self._older_sprites.pop(key, None)
            found = self._sprites[key] = make() if older is None else older
            self._sprite_bytes += _bytes_of(found)
        return found

    def _forget_sprites(self) -> None:
        """Let go of what was not used for half a minute: a drill has ever new numbers in large type.

        At few frames a second that is longer, so their bytes count as well.
        """
        self._shown += 1
        is_full = len(self._sprites) > MOST_SPRITES or self._sprite_bytes > MOST_SPRITE_BYTES
        if self._shown > SPRITE_FRAMES or is_full:
            self._sprites, self._older_sprites = {}, self._sprites
            self._shown = self._sprite_bytes = 0


class _Slices:
    """Says when it is time to give the caller a turn."""

    def __init__(self) -> None:
        self._until = time.perf_counter() + SLICE_S

    def is_over(self) -> bool:
        """Return whether the slice is used up; the next one then begins."""
        now = time.perf_counter()
        if now < self._until:
            return False
        self._until = now + SLICE_S
        return True


def _is_empty(strip: Strip) -> bool:
    # In a window of some pixels nothing is left for a sheet between what stands above and below it.
    return strip.w <= 0 or strip.h <= 0


def _is_seen(strip: Strip, panel: Panel) -> bool:
    return not _is_empty(strip) and strip.x < panel.x + panel.w and strip.x + strip.w > panel.x


def _coloured(cover: Coverage, colour: Colour) -> pygame.Surface:
    """Return a surface of one colour that covers as much as the shape does."""
    surface = pygame.Surface(cover.shape, pygame.SRCALPHA)
    surface.fill((*colour, 0))
    pygame.surfarray.pixels_alpha(surface)[:] = cover
    return surface


def _corners(radius: int) -> Coverage:
    """Return a circle of an even width, so that its quarters are the corners of a rectangle."""
    axis = np.arange(2 * radius, dtype=np.float64) + 0.5 - radius
    cover = np.clip(radius + 0.5 - np.hypot(axis[:, None], axis[None, :]), 0, 1)
    return np.asarray(np.rint(cover * 255), dtype=np.uint8)


def _fill(surface: pygame.Surface, colour: Colour, x: int, y: int, w: int, h: int) -> None:
    # pygame moves a rectangle that begins outside the surface instead of cutting it.
    surface.fill(colour, pygame.Rect(x, y, w, h).clip(surface.get_clip()))


def _put_centred(surface: pygame.Surface, sprite: pygame.Surface, x: float, y: float) -> None:
    surface.blit(sprite, (round(x) - sprite.get_width() // 2, round(y) - sprite.get_height() // 2))


def _left_of(text: Text, width: int) -> int:
    if text.anchor is Anchor.LEFT:
        return text.x
    return text.x - (width if text.anchor is Anchor.RIGHT else width // 2)


def _bytes_of(surface: pygame.Surface) -> int:
    return surface.get_width() * surface.get_height() * 4
