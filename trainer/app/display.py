"""Make the window: as large as the display has room for, and shown as it was painted."""

from __future__ import annotations

import os

from trainer.devices.sdl_library import usable_bounds
from trainer.sdl import pygame

USUAL = (1280, 720)
LEAST = (640, 360)  # a window smaller than that shows nothing that can be read
# Of the usable area, for a title bar and the frame; the tallest are some 37 (common practice, no source).
DECORATION = (8, 40)
# After these the system may have lost what it had of the picture: covered, minimised, on another display.
UNCOVERED = (
    (
        pygame.WINDOWEXPOSED,
        pygame.WINDOWSHOWN,
        pygame.WINDOWRESTORED,
        pygame.WINDOWMAXIMIZED,
        pygame.WINDOWFOCUSGAINED,
        getattr(pygame, "WINDOWDISPLAYCHANGED", pygame.WINDOWEXPOSED),
    )
    if pygame is not None
    else ()
)


def show_plainly() -> None:
    """Have what was painted copied to the screen as it is, under X.

    By default SDL hands the whole surface to a renderer as a texture first, however little has changed: 14 ms
    a frame at 1920x1080 without a graphics card, in which no key is looked for, against half a millisecond.
    On other systems there is no such choice, or SDL makes it itself (SDL_video.c, version 2.28).
    """
    if pygame.display.get_driver() == "x11":
        os.environ.setdefault("SDL_FRAMEBUFFER_ACCELERATION", "0")


def make_window(*, full: bool) -> pygame.Surface:
    """Open the window, or give it another size: the whole display, or as much of it as fits."""
    if full:
        return pygame.display.set_mode((0, 0), pygame.FULLSCREEN)
    usable = usable_bounds()
    size = fitting_size(None if usable is None else usable[2:])
    if usable is not None:
        # By itself SDL puts a window into the middle of the display, under whatever panel is there.
        position = window_position(usable, size, from_frame=pygame.display.get_driver() == "x11")
        os.environ.setdefault("SDL_VIDEO_WINDOW_POS", f"{position[0]},{position[1]}")
    return pygame.display.set_mode(size, pygame.RESIZABLE)


def fitting_size(usable: tuple[int, int] | None) -> tuple[int, int]:
    """Return the size of a first window that fits with its title bar into what a display has for windows.

    Args:
        usable: width and height without panels and docks; None where the system does not tell.
    """
    if usable is None:
        return USUAL
    width, height = (
        max(least, min(usual, there - taken))
        for least, usual, there, taken in zip(LEAST, USUAL, usable, DECORATION, strict=True)
    )
    return width, height


def window_position(
    usable: tuple[int, int, int, int], size: tuple[int, int], *, from_frame: bool
) -> tuple[int, int]:
    """Return where to put a window so that it stands in the middle of what there is, with its title bar.

    Args:
        usable: left, top, width and height.
        from_frame: whether it is the frame's place, as window managers of X take it, or the picture's.
    """
    left, top, width, height = usable
    free_x, free_y = width - size[0], height - size[1] - DECORATION[1]
    return left + max(0, free_x // 2), top + max(0, free_y // 2) + (0 if from_frame else DECORATION[1] - 4)
