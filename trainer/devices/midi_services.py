"""Reach the system's MIDI services through python-rtmidi, where that is installed.

What the library and the systems' own libraries write to the terminal about missing devices is kept from it.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable
from typing import Protocol

from trainer.devices.quiet import quiet_stderr

try:
    import rtmidi
except ImportError:
    rtmidi = None

CLIENT_NAME = "Thumbfall"
HAS_LIBRARY = rtmidi is not None


class RawInput(Protocol):
    """The part of ``rtmidi.MidiIn`` that is used; a test writes its own."""

    def get_ports(self) -> list[str]:
        """Return the names of the ports that can be opened."""

    def open_port(self, port: int, name: str) -> object:
        """Open a port by its place in the list."""

    def open_virtual_port(self, name: str) -> object:
        """Make a port that others can play into."""

    def set_callback(self, func: Callable[[tuple[list[int], float], object], None]) -> None:
        """Call a function on the driver's thread for each message."""

    def cancel_callback(self) -> None:
        """Call it no more."""

    def close_port(self) -> None:
        """Close the port; the callback must have been cancelled."""

    def delete(self) -> None:
        """End the client; using the object afterwards crashes. Just dropping it ends nothing."""


Service = Callable[[], RawInput]
"""Makes a fresh unopened input on one of the system's MIDI services; raises when there is none."""

LIBRARY_ERRORS: tuple[type[Exception], ...] = (OSError, RuntimeError, ValueError)
"""What an input may raise: the library's own errors, and those it lets through from below."""
if rtmidi is not None:
    LIBRARY_ERRORS = (rtmidi.RtMidiError, *LIBRARY_ERRORS)


def system_services() -> tuple[Service, ...]:
    """Return the MIDI services that this build of the library knows; empty without the library."""
    if rtmidi is None:
        return ()
    # A MIDI library must not start a sound server behind the user's back.
    os.environ.setdefault("JACK_NO_START_SERVER", "1")
    return tuple(_service(api) for api in rtmidi.get_compiled_api())


def _service(api: int) -> Service:
    def make() -> RawInput:
        raw: RawInput = rtmidi.MidiIn(api, CLIENT_NAME)
        raw.ignore_types(True, True, True)  # type: ignore[attr-defined]
        return raw

    return make


def made(service: Service) -> RawInput | None:
    """Return a fresh unopened input, or None where the service is not there."""
    try:
        with quiet_stderr():
            return service()
    except LIBRARY_ERRORS:
        return None


def listed(watcher: RawInput) -> list[str]:
    """Return the names of the ports that an input can open; none when its service does not answer."""
    try:
        with quiet_stderr():
            # A port that goes while the list is made can have no name.
            return [name for name in watcher.get_ports() if name]
    except LIBRARY_ERRORS:
        return []


def hush(raw: RawInput) -> tuple[object, ...]:
    """Cancel an input's callback; keep what is returned until the driver's thread has surely let go of it.

    The library frees the pair of callback and data at once, and a driver's thread that was just waiting to
    call it would read freed memory.
    """
    kept = tuple(each for each in gc.get_referents(raw) if isinstance(each, tuple))
    raw.cancel_callback()
    return kept


class RawOutput(Protocol):
    """The part of ``rtmidi.MidiOut`` that is used."""

    def get_ports(self) -> list[str]:
        """Return the names of the ports that can be played into."""

    def open_port(self, port: int, name: str) -> object:
        """Open one by its place."""

    def send_message(self, message: list[int]) -> None:
        """Send at once."""

    def delete(self) -> None:
        """End the client; using the object afterwards crashes."""


def output_to(part: str, client_name: str) -> RawOutput | None:
    """Return an output that plays into the first port with a part in its name; None where there is none."""
    nowhere: tuple[type[Exception], ...] = (StopIteration, *LIBRARY_ERRORS)
    for api in () if rtmidi is None else rtmidi.get_compiled_api():
        output: RawOutput | None = None
        with quiet_stderr():
            try:
                output = rtmidi.MidiOut(api, client_name)
                ports = output.get_ports()
                output.open_port(next(n for n, port in enumerate(ports) if part in port), "out")
            except nowhere:
                if output is not None:
                    output.delete()
                continue
        return output
    return None
