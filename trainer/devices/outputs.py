"""Name the sound outputs, and tell from a name whether it is wireless."""

from __future__ import annotations

import re

from trainer.devices.sdl_library import default_output
from trainer.devices.speaker import SilentSpeaker, SpeakerLike
from trainer.sdl import pygame

try:
    from pygame._sdl2 import audio as sdl_audio
    from pygame._sdl2.sdl2 import error as sdl_error
except ImportError:
    sdl_audio = None  # type: ignore[assignment]
    sdl_error = RuntimeError  # type: ignore[misc, assignment]

# What drivers write into the names of outputs without a wire.
_WIRELESS = re.compile(r"wireless|bluetooth|bluez|a2dp|hands-?free|\bbt\b|\bble\b|\btws\b", re.IGNORECASE)


def output_names() -> tuple[str, ...]:
    """Return the names of all sound outputs; empty while no sound is open, or where they cannot be told."""
    return _names(capture=False)


def capture_names() -> tuple[str, ...]:
    """Return the names of all microphones and other inputs of sound; empty as :func:`output_names`."""
    return _names(capture=True)


def output_name(speaker: SpeakerLike) -> str:
    """Return what is heard through, by the name under which its delay is kept.

    That is the system's default output where the system tells it, the only output where there is one, and
    else the speaker's own words.
    """
    if isinstance(speaker, SilentSpeaker):
        return speaker.name
    names = output_names()
    return default_output() or (names[0] if len(names) == 1 else speaker.name)


def is_wireless(name: str) -> bool:
    """Return whether a name says that the output has no wire; many such names do not say it."""
    return _WIRELESS.search(name) is not None


def wireless_warning(name: str) -> str:
    """Return the sentence for an output whose name says that it has no wire; empty for others."""
    if not is_wireless(name):
        return ""
    return (
        f"{name} seems to be wireless: its sound comes 100 ms and more late, and not always by the same. Use "
        "a wire, or measure the delay anew each time."
    )


def _names(*, capture: bool) -> tuple[str, ...]:
    if sdl_audio is None:
        return ()
    try:
        return tuple(sdl_audio.get_audio_device_names(capture))
    except (pygame.error, sdl_error):
        return ()
