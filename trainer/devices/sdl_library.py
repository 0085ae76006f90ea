"""Reach the SDL library that pygame brings along, for the few calls that pygame does not offer or does
while it holds the interpreter's lock.

Where the library's file cannot be found, callers do without.
"""

from __future__ import annotations

import ctypes
from functools import lru_cache
from pathlib import Path

from trainer.sdl import pygame

# Beside pygame and pygame-ce in their wheels: Linux, Windows, macOS.
_PLACES = (
    "../pygame.libs/libSDL2-2*",
    "../pygame_ce.libs/libSDL2-2*",
    "SDL2.dll",
    ".dylibs/libSDL2-2*.dylib",
)
_SPEC_BYTES = 64  # SDL_AudioSpec takes 32 on 64-bit systems


@lru_cache(maxsize=1)
def sdl_library() -> ctypes.CDLL | None:
    """Return the SDL library that pygame has loaded; None where it lies in no place known."""
    if pygame is None:
        return None
    folder = Path(pygame.__file__).parent
    for place in _PLACES:
        for found in sorted((folder / place).parent.glob(Path(place).name)):
            try:
                return ctypes.CDLL(str(found))
            except OSError:
                continue
    return None


def default_output() -> str:
    """Return the name of the system's default sound output; empty where the system does not tell."""
    library = sdl_library()
    if library is None or not hasattr(library, "SDL_GetDefaultAudioInfo"):
        return ""
    name, spec = ctypes.c_char_p(), (ctypes.c_ubyte * _SPEC_BYTES)()
    failed = library.SDL_GetDefaultAudioInfo(ctypes.byref(name), spec, 0)
    if failed or not name.value:
        return ""
    text = name.value.decode("utf-8", errors="replace")
    library.SDL_free(name)
    return text


def usable_bounds(display: int = 0) -> tuple[int, int, int, int] | None:
    """Return what a display has for windows, panels and docks left out: left, top, width, height.

    The video part of SDL must have been begun. Under X it is what the window manager says (_NET_WORKAREA),
    and the whole display without one. None where SDL cannot be asked.
    """
    library = sdl_library()
    if library is None or not hasattr(library, "SDL_GetDisplayUsableBounds"):
        return None
    bounds = (ctypes.c_int * 4)()
    if library.SDL_GetDisplayUsableBounds(display, bounds):
        return None
    return bounds[0], bounds[1], bounds[2], bounds[3]


def close_device(device_id: int) -> bool:
    """Pause and close an opened sound device without the interpreter's lock; return whether that was done.

    pygame's own pause and close hold the lock while SDL waits for the device's thread, which may be waiting
    for the lock: then both wait for ever.
    """
    library = sdl_library()
    if library is None:
        return False
    handle = ctypes.c_uint32(device_id)
    library.SDL_PauseAudioDevice(handle, 1)
    library.SDL_CloseAudioDevice(handle)
    return True
