"""Reach MIDI through pygame.midi (PortMidi), where neither python-rtmidi nor rtmidi2 has a build.

PortMidi cannot wait for a message, so a thread looks a thousand times a second; cannot offer a port of its
own; and makes its list of ports once, when it is begun. So the list is made anew only while no port is open:
one that is pulled out while it is open is not noticed, and one that is plugged in then is seen after the open
one is closed. Two ports of one name cannot be told apart. Times are whole milliseconds.
"""

from __future__ import annotations

import contextlib
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from typing import cast

import trainer.sdl  # noqa: F401 - so that pygame is loaded as everywhere
from trainer.devices.midi_library import (
    CLIENT_NAME,
    MidiLibrary,
    OnMessage,
    OutService,
    Service,
)

WHY_NOT = ""
try:
    from pygame import midi
except (ImportError, OSError) as err:
    midi = None  # type: ignore[assignment]
    WHY_NOT = str(err) or "it is not installed"

LOOK_S = 0.001
MOST_AT_ONCE = 64
LIST_AGAIN_NS = 2_000_000_000
_DATA_BYTES = {0xC0: 1, 0xD0: 1}
_SYSTEM_DATA_BYTES = {0xF1: 1, 0xF2: 2, 0xF3: 1}


def inputs(client_name: str = CLIENT_NAME) -> tuple[Service, ...]:  # noqa: ARG001 - PortMidi names no clients
    """Return the one service there is."""
    return () if midi is None else (_Input,)


def outputs(client_name: str = CLIENT_NAME) -> tuple[OutService, ...]:  # noqa: ARG001 - as above
    """Return the one service there is."""
    return () if midi is None else (_Output,)


LIBRARY = MidiLibrary(name="pygame.midi", why_not=WHY_NOT, inputs=inputs, outputs=outputs)


def message_of(event: Sequence[int]) -> list[int]:
    """Return the bytes of a message out of the four that PortMidi always gives."""
    status = event[0]
    if status < 0xF0:
        return list(event[: 1 + _DATA_BYTES.get(status & 0xF0, 2)])
    return list(event[: 1 + _SYSTEM_DATA_BYTES.get(status, 0)])


class _Lists:
    """PortMidi itself: begun once, and anew for a fresh list while nothing is open."""

    def __init__(self) -> None:
        self.open = 0
        self._begun_ns = 0

    def begin(self, *, at_least_new: bool = True) -> None:
        """See to it that there is a list.

        Raises:
            OSError: the system offers no MIDI service.
        """
        now = time.perf_counter_ns()
        if midi.get_init() and at_least_new and not self.open and now - self._begun_ns > LIST_AGAIN_NS:
            midi.quit()
        if not midi.get_init():
            midi.init()
            self._begun_ns = now

    def names(self, *, is_input: bool) -> list[tuple[int, str]]:
        """Return (PortMidi's number, name) of each port that can be opened in one direction."""
        self.begin()
        found = []
        for number in range(midi.get_count()):
            info = midi.get_device_info(number)
            if info is not None and bool(info[2 if is_input else 3]):
                found.append((number, info[1].decode("utf-8", errors="replace")))
        return found


_lists = _Lists()


@contextlib.contextmanager
def _as_os_errors() -> Iterator[None]:
    """Turn the library's errors into one that callers expect; it raises bare exceptions among others."""
    try:
        yield
    except OSError:
        raise
    except Exception as err:
        raise OSError(f"PortMidi: {err}") from err


class _Port:
    """What inputs and outputs have in common."""

    is_input = False
    offers_ports = False

    def __init__(self) -> None:
        with _as_os_errors():
            _lists.begin()
        if sys.platform.startswith("linux") and not midi.get_count():
            # There is always ALSA's own "Midi Through" where ALSA's sequencer is.
            raise OSError("no sequencer")

    def get_ports(self) -> list[str]:
        """Return the names of the ports that can be opened."""
        return [name for _number, name in _lists.names(is_input=self.is_input)]

    def open_virtual_port(self, name: str) -> None:
        """Refuse: PortMidi cannot."""
        raise OSError(f"no port can be offered ({name})")


class _Input(_Port):
    is_input = True

    def __init__(self) -> None:
        super().__init__()
        self._port: midi.Input | None = None
        self._heard: OnMessage | None = None
        self._ending = threading.Event()
        self._looker: threading.Thread | None = None
        self._last_ms = 0

    def open_port(self, port: int, name: str) -> None:  # noqa: ARG002 - PortMidi names no ports
        """Open a port by its place in the list, and begin to look at it."""
        with _as_os_errors():
            self._port = midi.Input(_lists.names(is_input=True)[port][0])
        _lists.open += 1
        self._looker = threading.Thread(target=self._look, name="MIDI in", daemon=True)
        self._looker.start()

    def set_callback(self, func: OnMessage) -> None:
        """Call a function on the looking thread for each message."""
        self._heard = func

    def cancel_callback(self) -> None:
        """Call it no more."""
        self._heard = None

    def close_port(self) -> None:
        """Close the port."""
        if self._port is None:
            return
        self._ending.set()
        if self._looker is not None:
            self._looker.join()
        self._port.close()
        self._port = None
        _lists.open -= 1

    def delete(self) -> None:
        """Close the port if it is still open."""
        self.close_port()

    def _look(self) -> None:
        port = self._port
        assert port is not None
        while not self._ending.wait(LOOK_S):
            if not port.poll():
                continue
            # The library's types mix up the two halves of an event.
            events = cast("list[tuple[list[int], int]]", port.read(MOST_AT_ONCE))
            for event, at_ms in events:
                delta_s = (at_ms - self._last_ms) / 1000 if self._last_ms else 0.0
                self._last_ms = at_ms
                heard = self._heard
                if heard is not None:
                    heard((message_of(event), delta_s), None)


class _Output(_Port):
    def __init__(self) -> None:
        super().__init__()
        self._port: midi.Output | None = None

    def open_port(self, port: int, name: str) -> None:  # noqa: ARG002 - as above
        """Open a port by its place in the list."""
        with _as_os_errors():
            self._port = midi.Output(_lists.names(is_input=False)[port][0])
        _lists.open += 1

    def send_message(self, message: Sequence[int]) -> None:
        """Send one message now."""
        if self._port is None:
            raise OSError("the port is not open")
        with _as_os_errors():
            self._port.write_short(*message)

    def close_port(self) -> None:
        """Close the port."""
        if self._port is not None:
            self._port.close()
            self._port = None
            _lists.open -= 1

    def delete(self) -> None:
        """Close the port if it is still open."""
        self.close_port()
