"""Reach MIDI through rtmidi2, the library for Pythons that python-rtmidi has no build for.

Both wrap the same C++ code, so ports, names and times are the same. Where they differ (1.5.0, seen):

- An error in opening a port ends the whole program: the exception of C++ passes through a function that is
  not made for it, and the run time aborts. On Windows that would be whenever another program holds the pad.
  So a port is opened by a process of its own first, and by this one only when that lived through it.
- Its builds for Linux bring a libjack of their own, which no JACK server of today talks to ("protocol
  mismatch"). The system's libjack, where there is one, is loaded first and for all, and serves in its place.
- A service that it has no code for is silently replaced by another one, and one of JACK without a server is
  made all the same.
- An object ends its client when it is dropped, and has no other way to do it.
"""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from typing import Any

from trainer.devices.midi_library import (
    CLIENT_NAME,
    MidiLibrary,
    OnMessage,
    OutService,
    RawInput,
    RawOutput,
    Service,
)

# ALSA, JACK, CoreMIDI and WinMM, as python-rtmidi orders them.
_NAMES = {
    "linux": ("API_LINUX_ALSA", "API_UNIX_JACK"),
    "darwin": ("API_MACOSX_CORE",),
    "win32": ("API_WINDOWS_MM",),
}
QUEUE = 1024
LONGEST_TRY_S = 5.0
_TRY = "import sys; from trainer.devices.midi_rtmidi2 import try_to_open; try_to_open(*sys.argv[1:])"


_JACK_NO_START_SERVER = 0x01  # of jack/types.h


def _the_systems_jack() -> ctypes.CDLL | None:
    if not sys.platform.startswith("linux"):
        return None
    try:
        return ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)
    except OSError:
        return None  # no JACK on this system, so no server that could be reached


WHY_NOT = ""
_JACK = _the_systems_jack()
try:
    import rtmidi2
except (ImportError, OSError) as err:
    rtmidi2 = None
    WHY_NOT = str(err) or "it is not installed"


def inputs(client_name: str = CLIENT_NAME) -> tuple[Service, ...]:
    """Return the services that this system may have."""
    return tuple(_input(api, client_name) for api in _services())


def outputs(client_name: str = CLIENT_NAME) -> tuple[OutService, ...]:
    """Return the services that this system may have."""
    return tuple(_output(api, client_name) for api in _services())


LIBRARY = MidiLibrary(name="rtmidi2", why_not=WHY_NOT, inputs=inputs, outputs=outputs)


def try_to_open(kind: str, api: str, place: str, name: str) -> None:
    """Open a port and close it again; run in a process of its own, which an error ends.

    Args:
        kind: "in" or "out".
        api: the service's number.
        place: the port's place in the list; empty for a port of our own.
        name: what the port must be called, or what to call our own.
    """
    raw = (
        rtmidi2.MidiIn(CLIENT_NAME, QUEUE, int(api))
        if kind == "in"
        else rtmidi2.MidiOut(CLIENT_NAME, int(api))
    )
    if place:
        if raw.get_port_name(int(place)) != name:
            raise SystemExit("the list of ports has changed")
        raw.open_port(int(place))
    else:
        raw.open_virtual_port(name)
    raw.close_port()


def _jack_answers() -> bool:
    """Return whether there is a JACK server; the library says so to the terminal only."""
    if _JACK is None:
        return False
    _JACK.jack_client_open.restype = ctypes.c_void_p
    client = _JACK.jack_client_open(CLIENT_NAME.encode(), _JACK_NO_START_SERVER, None)
    if client is None:
        return False
    _JACK.jack_client_close(ctypes.c_void_p(client))
    return True


class _Port:
    """What inputs and outputs have in common."""

    kind = ""

    def __init__(self, api: int) -> None:
        self._api = api
        self._raw = self._made()
        if self._raw.get_current_api() != api:
            self._raw = None
            raise OSError("this service is not built in")
        if api == rtmidi2.API_UNIX_JACK and not _jack_answers():
            self._raw = None
            raise OSError("no JACK server answers")

    def _made(self) -> Any:
        raise NotImplementedError

    def get_ports(self) -> list[str]:
        """Return the names of the ports that can be opened."""
        return [name or "" for name in self._raw.ports]

    def open_port(self, port: int, name: str) -> None:  # noqa: ARG002 - the library names our end itself
        """Open a port by its place in the list."""
        self._try(str(port), self._raw.get_port_name(port) or "")
        self._raw.open_port(port)

    def open_virtual_port(self, name: str) -> None:
        """Make a port of our own."""
        self._try("", name)
        self._raw.open_virtual_port(name)

    def close_port(self) -> None:
        """Close the port."""
        self._raw.close_port()

    def delete(self) -> None:
        """End the client."""
        self._raw = None

    def _try(self, place: str, name: str) -> None:
        """Have another process open the port.

        Raises:
            OSError: that process did not live through it.
        """
        words = [sys.executable, "-P", "-c", _TRY, self.kind, str(self._api), place, name]
        found = os.pathsep.join(path for path in sys.path if path)
        try:
            done = subprocess.run(
                words,
                env={**os.environ, "PYTHONPATH": found},
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=LONGEST_TRY_S,
                check=False,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except subprocess.TimeoutExpired as err:
            raise OSError("the port does not answer") from err
        if done.returncode != 0:
            raise OSError("the port was refused")


class _Input(_Port):
    kind = "in"

    def __init__(self, api: int, client_name: str) -> None:
        self._client_name = client_name
        self._heard: Callable[[list[int], float], None] | None = None
        super().__init__(api)
        self._raw.ignore_types(True, True, True)

    def _made(self) -> Any:
        return rtmidi2.MidiIn(self._client_name, QUEUE, self._api)

    def set_callback(self, func: OnMessage) -> None:
        """Call a function on the driver's thread for each message."""

        def hand_on(message: list[int], delta_s: float) -> None:
            func((message, delta_s), None)

        # Held until the object goes: the driver's thread may be about to call what has just been cancelled.
        self._heard = hand_on
        self._raw.callback = hand_on

    def cancel_callback(self) -> None:
        """Call it no more."""
        self._raw.callback = None


class _Output(_Port):
    kind = "out"

    def __init__(self, api: int, client_name: str) -> None:
        self._client_name = client_name
        super().__init__(api)

    def _made(self) -> Any:
        return rtmidi2.MidiOut(self._client_name, self._api)

    def send_message(self, message: Sequence[int]) -> None:
        """Send one message now."""
        self._raw.send_raw(*message)


def _services() -> tuple[int, ...]:
    if rtmidi2 is None:
        return ()
    # A MIDI library must not start a sound server behind the user's back.
    os.environ.setdefault("JACK_NO_START_SERVER", "1")
    return tuple(getattr(rtmidi2, name) for name in _NAMES.get(sys.platform, ()))


def _input(api: int, client_name: str) -> Service:
    def make() -> RawInput:
        return _Input(api, client_name)

    return make


def _output(api: int, client_name: str) -> OutService:
    def make() -> RawOutput:
        return _Output(api, client_name)

    return make
