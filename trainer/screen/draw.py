"""Hold what is to be painted: a scene's draw list, as frozen values in pixels of the window.

x grows to the right and y downwards. A scene is a row of panels that do not overlap; a panel that is
equal to the one painted before it is left alone, so only what changed costs time. Pictures that move
along (the sheet) come as strips: a strip names its picture by a hashable value, and the painter paints
each picture once.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import Protocol

from trainer.screen.actions import Action
from trainer.screen.key_entries import Help
from trainer.screen.theme import Colour
from trainer.screen.window import Window

Point = tuple[float, float]


class Anchor(enum.Enum):
    """Which end of a text its x names."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Rect:
    """A filled rectangle, its corners rounded by ``radius``."""

    x: int
    y: int
    w: int
    h: int
    colour: Colour
    radius: int = 0

    def holds(self, x: float, y: float) -> bool:
        """Return whether a point lies inside."""
        return self.x <= x < self.x + self.w and self.y <= y < self.y + self.h


@dataclass(frozen=True, slots=True)
class Polyline:
    """A round-ended line through points; one width for each point, or one for all."""

    points: tuple[Point, ...]
    widths: tuple[float, ...]
    colour: Colour


@dataclass(frozen=True, slots=True)
class Disc:
    """A filled circle."""

    x: float
    y: float
    radius: float
    colour: Colour


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle's line, ``width`` thick, its outer edge at ``radius``."""

    x: float
    y: float
    radius: float
    width: float
    colour: Colour


@dataclass(frozen=True, slots=True)
class Polygon:
    """A filled convex shape."""

    points: tuple[Point, ...]
    colour: Colour


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``y`` is its baseline."""

    x: int
    y: int
    text: str
    size: int
    colour: Colour
    anchor: Anchor = Anchor.LEFT
    bold: bool = False


Item = Rect | Polyline | Disc | Ring | Polygon | Text


class Picture(Protocol):
    """A picture that stays the same; equal pictures look alike, so it must be hashable by value."""

    def items(self) -> tuple[Item, ...]:
        """Return what it is made of, in pixels from its own upper left corner."""

    def __hash__(self) -> int:
        """Return the same for equal pictures."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Where a picture stands now."""

    x: int
    y: int
    w: int
    h: int
    colour: Colour
    picture: Picture


@dataclass(frozen=True, slots=True)
class Panel:
    """A part of the window with its own background.

    Attributes:
        strips: pictures under the items; those outside the panel are prepared for later.
        dim_before: strips left of this x are shown faded; None for nowhere.
    """

    x: int
    y: int
    w: int
    h: int
    colour: Colour
    items: tuple[Item, ...] = ()
    strips: tuple[Strip, ...] = ()
    dim_before: int | None = None


@dataclass(frozen=True, slots=True)
class Hit:
    """A place that can be clicked."""

    x: int
    y: int
    w: int
    h: int
    action: Action

    def holds(self, x: float, y: float) -> bool:
        """Return whether a point lies inside."""
        return self.x <= x < self.x + self.w and self.y <= y < self.y + self.h


@dataclass(frozen=True, slots=True)
class KeyUse:
    """What a key does on this screen; ``key`` is pygame's name for it."""

    key: str
    action: Action


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything to paint, to click and to press.

    Attributes:
        panels: they cover the window and do not overlap.
        hits: the topmost last.
        keys: what keys do here; ``helps`` the same in words.
    """

    panels: tuple[Panel, ...]
    hits: tuple[Hit, ...] = ()
    keys: tuple[KeyUse, ...] = ()
    helps: tuple[Help, ...] = ()

    def action_at(self, x: float, y: float) -> Action | None:
        """Return what a click at a place asks for."""
        for hit in reversed(self.hits):
            if hit.holds(x, y):
                return hit.action
        return None

    def actions_for_key(self, key: str) -> tuple[Action, ...]:
        """Return what a key asks for."""
        return tuple(use.action for use in self.keys if use.key == key)


class View(Protocol):
    """What a scene is made of: all that it shows, as a frozen value that holds no pixels.

    Each stands beside its drawing in :mod:`trainer.screen.scenes`. Seconds count from beat 0, late is
    positive, sizes are real pixels of the window.
    """

    @property
    def window(self) -> Window:
        """The window as it is now."""

    def scene(self) -> Scene:
        """Return the scene that shows it."""
