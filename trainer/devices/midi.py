"""Hear taps from MIDI ports, see ports come and go, and remember them by name.

python-rtmidi is used directly, for other layers drop arrival times. Its callback runs on the driver's own
thread: it stamps the host clock first thing and appends to a queue, nothing more. Unplugging is reported
by nobody, so the list of ports is looked at twice a second on inputs that stay unopened for it.
"""

from __future__ import annotations

import os
import re
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from trainer.devices.clock import now_ns
from trainer.devices.midi_bytes import MidiBytes
from trainer.devices.quiet import quiet_stderr
from trainer.errors import NoMidi

try:
    import rtmidi
except ImportError:
    rtmidi = None

CLIENT_NAME = "Thumbfall"
VIRTUAL_NAME = "Thumbfall port (other programs can play into it)"
SCAN_NS = 500_000_000
QUIET_NS = 50_000_000  # closing a port while its thread delivers can hang: library's issue tracker
# Two hits on one pad cannot follow by less than the fastest tapping, 100 ms (Repp 2003); a pad that
# bounces sends its second note within some 20 ms.
DEBOUNCE_NS = 35_000_000
_CLIENT_AND_PORT = re.compile(r"\s+\d+:\d+$")  # ALSA: "Pad:Pad MIDI 1 20:0"
_COPY = re.compile(r"\s*\(\d+\)$")  # a second plugging in: "Pad (2)"
_INDEX = re.compile(r"\s+\d+$")  # Windows: "Pad 1"

NO_LIBRARY = (
    "MIDI is off: python-rtmidi has no build for this Python; use the computer's keys, or Python 3.11 or 3.12"
)
NO_SYSTEM = "MIDI is off: this system offers no MIDI service; use the computer's keys"


@dataclass(frozen=True, slots=True, kw_only=True)
class MidiTap:
    """A note that began.

    Attributes:
        host_ns: when it arrived, by the host clock.
        delta_s: the driver's own seconds since its message before; None for the first.
    """

    host_ns: int
    channel: int
    note: int
    velocity: int
    delta_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PortNotice:
    """A port that has come or gone."""

    name: str
    present: bool


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

    def close_port(self) -> None:
        """Close the port."""


Service = Callable[[], RawInput]
"""Makes a fresh unopened input on one of the system's MIDI services; raises when there is none."""


def stable_name(name: str, *, windows: bool = os.name == "nt") -> str:
    """Return a port's name without the ids that change from one plugging in to the next."""
    stable = _COPY.sub("", _CLIENT_AND_PORT.sub("", name))
    if windows:
        # There the system adds an index; elsewhere a last number is the maker's.
        stable = _INDEX.sub("", stable)
    return stable.strip() or name.strip()


class MidiInputs:
    """All MIDI inputs of the system, at most one open; from the app's thread only."""

    def __init__(self, services: Sequence[Service] | None = None, clock: Callable[[], int] = now_ns) -> None:
        self._clock = clock
        self._watchers: list[tuple[Service, RawInput]] = []
        self.note = ""
        if services is None:
            services = system_services()
            if rtmidi is None:
                self.note = NO_LIBRARY
        for service in services:
            watcher = _made(service)
            if watcher is not None:
                self._watchers.append((service, watcher))
        if not self._watchers and not self.note:
            self.note = NO_SYSTEM
        self._wanted = ""
        self._open: RawInput | None = None
        self._open_name = ""
        self._retired: list[RawInput] = []
        self._arrived: deque[tuple[int, list[int], float]] = deque()
        self._bytes = MidiBytes()
        self._last_ns = 0
        self._first = True
        self._last_note_ns: dict[tuple[int, int], int] = {}
        self._scanned_ns = clock()
        self._known = self.ports()

    def ports(self) -> tuple[str, ...]:
        """Return the names of all ports without their changing ids; the same name only once."""
        names: dict[str, None] = {}
        for _service, watcher in self._watchers:
            for raw in watcher.get_ports():
                # A port of ours that others play into is no source of taps.
                if not stable_name(raw).startswith(CLIENT_NAME):
                    names.setdefault(stable_name(raw))
        return tuple(names)

    @property
    def can_be_played_into(self) -> bool:
        """Whether the system lets a program offer a port of its own."""
        return bool(self._watchers) and os.name != "nt"

    @property
    def open_name(self) -> str:
        """The name of the open port; empty when none is open (it may have been unplugged)."""
        return self._open_name

    def open(self, name: str) -> str:
        """Open a port by its remembered name or a part of it, and keep it open over replugging.

        Returns:
            The whole name.

        Raises:
            NoMidi: no service, no such port, several that fit, or the port is refused.
        """
        if self.note:
            raise NoMidi(self.note, "the rest works")
        if name == VIRTUAL_NAME:
            return self._open_virtual()
        found = self._named(name)
        self._close_open()
        self._wanted = found
        self._open_found(found)
        return found

    def close(self) -> None:
        """Close what is open, once it is quiet."""
        self._wanted = ""
        self._close_open()

    def poll(self) -> tuple[MidiTap, ...]:
        """Return the taps that have arrived since the last call, in order."""
        taps: list[MidiTap] = []
        while self._arrived:
            host_ns, message, delta_s = self._arrived.popleft()
            for note_on in self._bytes.note_ons(message):
                key = (note_on.channel, note_on.note)
                since = host_ns - self._last_note_ns.get(key, host_ns - DEBOUNCE_NS)
                if since < DEBOUNCE_NS:
                    continue
                self._last_note_ns[key] = host_ns
                taps.append(
                    MidiTap(
                        host_ns=host_ns,
                        channel=note_on.channel,
                        note=note_on.note,
                        velocity=note_on.velocity,
                        delta_s=None if self._first else delta_s,
                    )
                )
                self._first = False
        return tuple(taps)

    def scan(self) -> tuple[PortNotice, ...]:
        """Look for ports that came or went, at most twice a second; open the wanted one when it is back."""
        now = self._clock()
        if now - self._scanned_ns < SCAN_NS:
            return ()
        self._scanned_ns = now
        self._retire_quiet(now)
        ports = self.ports()
        came = [name for name in ports if name not in self._known]
        went = [name for name in self._known if name not in ports]
        self._known = ports
        if self._open_name in went:
            self._close_open()
        if self._wanted and not self._open_name and self._wanted in ports:
            # The port may still be on its way in; the next scan tries again.
            self._try_reopen()
        return tuple(
            [PortNotice(name=name, present=False) for name in went]
            + [PortNotice(name=name, present=True) for name in came]
        )

    def _named(self, name: str) -> str:
        ports = self.ports()
        wanted = stable_name(name).lower()
        exact = [port for port in ports if port.lower() == wanted]
        found = exact or [port for port in ports if wanted in port.lower()]
        if not found:
            there = ", ".join(ports) if ports else "none"
            raise NoMidi(f'no MIDI port is called "{name}" (ports: {there})', "plug it in or name another")
        if len(found) > 1:
            raise NoMidi(
                f'"{name}" fits {len(found)} MIDI ports: {", ".join(found)}', "write more of the name"
            )
        return found[0]

    def _open_found(self, name: str) -> None:
        for service, watcher in self._watchers:
            for at, raw_name in enumerate(watcher.get_ports()):
                if stable_name(raw_name) == name:
                    self._begin(service, lambda raw, at=at: raw.open_port(at, "in"))  # type: ignore[misc]
                    self._open_name = name
                    return
        raise NoMidi(f'the MIDI port "{name}" has gone', "plug it in again")

    def _open_virtual(self) -> str:
        self._close_open()
        self._wanted = ""
        self._begin(self._watchers[0][0], lambda raw: raw.open_virtual_port("in"))
        self._open_name = VIRTUAL_NAME
        return VIRTUAL_NAME

    def _begin(self, service: Service, opening: Callable[[RawInput], object]) -> None:
        raw = _made(service)
        if raw is None:
            raise NoMidi("the MIDI service does not answer any more", "start the program again")
        self._arrived.clear()
        self._bytes = MidiBytes()
        self._first = True
        raw.set_callback(self._on_message)
        try:
            with quiet_stderr():
                opening(raw)
        # The library raises its own errors beside these two, and each derives from one of them.
        except (OSError, RuntimeError, ValueError, NotImplementedError) as err:
            self._retired.append(raw)
            raise NoMidi(
                "the MIDI port was refused", "another program may hold the pad; close it and try again"
            ) from err
        self._open = raw

    def _on_message(self, message: tuple[list[int], float], _data: object = None) -> None:
        """Stamp a message; runs on the driver's thread and must do nothing more."""
        host_ns = now_ns()
        self._last_ns = host_ns
        self._arrived.append((host_ns, message[0], message[1]))

    def _try_reopen(self) -> None:
        try:
            self._open_found(self._wanted)
        except NoMidi:
            self._open_name = ""

    def _close_open(self) -> None:
        if self._open is not None:
            self._retired.append(self._open)
        self._open, self._open_name = None, ""

    def _retire_quiet(self, now: int) -> None:
        if self._retired and now - self._last_ns > QUIET_NS:
            for raw in self._retired:
                raw.close_port()
            self._retired.clear()


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


def _made(service: Service) -> RawInput | None:
    try:
        with quiet_stderr():
            return service()
    except (OSError, RuntimeError):
        return None
