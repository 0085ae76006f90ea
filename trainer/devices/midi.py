"""Hear taps from MIDI ports, see ports come and go, and remember them by name.

The MIDI libraries are used directly, for other layers drop arrival times. Their callback runs on the driver's
own thread: it stamps the host clock first thing and appends to a queue, nothing more. Unplugging is reported
by nobody, so the list of ports is looked at twice a second on inputs that stay unopened for it.

Known limits: a port that is out and back between two looks, under the very same name and ids, is not
noticed; nor is a JACK server that ends, for its last list of ports stays readable.
"""

from __future__ import annotations

import os
import re
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from trainer.devices.clock import now_ns
from trainer.devices.midi_bytes import MidiBytes
from trainer.devices.midi_library import CLIENT_NAME, RawInput, Service
from trainer.devices.midi_services import (
    LIBRARY_ERRORS,
    can_offer,
    hush,
    listed,
    made,
    system_services,
    why_no_midi,
)
from trainer.devices.midi_stamps import MidiStamps
from trainer.devices.quiet import quiet_stderr
from trainer.errors import NoMidi
from trainer.judging.bounces import Bounces

VIRTUAL_NAME = "Thumbfall port (other programs can play into it)"
SCAN_NS = 500_000_000
# A service that is not there at the start may be started later. Asking took 3.6 ms where JACK was missing,
# so it is asked seldom, and not at all while a port is open.
ASK_AGAIN_NS = 10_000_000_000
# Closing a port waits for the driver's thread, which may be waiting for Python to deliver: a program that
# closes while a tap arrives can hang, and under a stream of notes it crashed within ten closings. So a port
# that is left is first hushed, when nothing has come for a while, and closed only when a call that was then
# on its way has had time to end.
QUIET_NS = 50_000_000
SETTLE_NS = 20_000_000
LONGEST_END_NS = 300_000_000
MOST_A_LOOK = 300  # messages; some ten milliseconds of work
FLOOD = 64  # waiting: more than two hands send between two looks, however busy the machine is
_CLIENT_AND_PORT = re.compile(r"\s+\d+:\d+$")  # ALSA: "Pad:Pad MIDI 1 20:0"
_COPY = re.compile(r"\s*\(\d+\)$")  # a second plugging in: "Pad (2)"
_INDEX = re.compile(r"\s+\d+$")  # Windows: "Pad 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class MidiTap:
    """A note that began.

    Attributes:
        host_ns: when it came, by the host clock: its arrival, less what was our own lateness where the
            driver's times can be believed (devices/midi_stamps.py).
        channel, note: from 0.
        velocity: 1 to 127.
        delta_s: seconds since the tap before by the driver's own stamps; None for the first. How far they
            can be trusted depends on the system: JACK rounds them to its period.
        saved_s: how much was taken off the arrival; 0 where the arrival stands.
    """

    host_ns: int
    channel: int
    note: int
    velocity: int
    delta_s: float | None
    saved_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PortNotice:
    """A port that has come or gone."""

    name: str
    present: bool


def stable_name(name: str, *, windows: bool = os.name == "nt") -> str:
    """Return a port's name without the ids that change from one plugging in to the next."""
    stable = _COPY.sub("", _CLIENT_AND_PORT.sub("", name))
    if windows:
        # There the system adds an index; elsewhere a last number is the maker's.
        stable = _INDEX.sub("", stable)
    return stable.strip() or name.strip()


class _OpenPort:
    """One open port: what arrives on it, from the driver's thread to the app's."""

    def __init__(self, raw: RawInput, clock: Callable[[], int]) -> None:
        self.raw = raw
        self.name = ""
        self.raw_name = ""
        self.last_ns = 0
        self._hears = False
        self._hushed_ns = 0
        self._kept: tuple[object, ...] = ()
        self._clock = clock
        self._arrived: deque[tuple[int, list[int], float]] = deque()
        self._bytes = MidiBytes()
        self._stamps = MidiStamps()
        self._bounces = Bounces()
        self._delta_s: float | None = None

    def on_message(self, message: tuple[list[int], float], _data: object = None) -> None:
        """Stamp a message; runs on the driver's thread and must do nothing more."""
        host_ns = self._clock()
        self.last_ns = host_ns
        self._arrived.append((host_ns, message[0], message[1]))

    def begin(self) -> None:
        """Hear what comes from now on."""
        self._arrived.clear()
        self._stamps = MidiStamps()
        self._delta_s = None
        if not self._hears:
            self.raw.set_callback(self.on_message)
        self._hears = True

    def close_in_steps(self, now: int) -> bool:
        """Hush the port, or close it when it was hushed a while ago; return whether it is closed."""
        if self._hears:
            self._hears, self._hushed_ns, self._kept = False, now, hush(self.raw)
        elif now - self._hushed_ns >= SETTLE_NS:
            with quiet_stderr():
                self.raw.close_port()
                self.raw.delete()
            return True
        return False

    @property
    def is_quiet(self) -> bool:
        """Whether closing may go on: nothing has come for a while, or nothing can."""
        return not self._hears or self._clock() - self.last_ns > QUIET_NS

    @property
    def is_behind(self) -> bool:
        """Whether messages have piled up."""
        return len(self._arrived) > FLOOD

    def taps(self) -> tuple[MidiTap, ...]:
        """Return the taps that have arrived since the last call, in order, without bounces.

        Of very many only the first, so that the caller gets its turn; the rest comes with the next calls.
        """
        taps: list[MidiTap] = []
        for _ in range(min(len(self._arrived), MOST_A_LOOK)):
            # When messages pile up, keeping up with them is worth more than a tenth of a millisecond.
            is_behind = len(self._arrived) > FLOOD
            arrived_ns, message, delta_s = self._arrived.popleft()
            host_ns = self._stamps.stamp(arrived_ns, delta_s, as_arrived=is_behind)
            # Deltas run from message to message; note-offs and bounces lie between two taps.
            if self._delta_s is not None:
                self._delta_s += delta_s
            for note_on in self._bytes.note_ons(message):
                if not self._bounces.is_touch((note_on.channel, note_on.note), host_ns // 1000):
                    continue
                taps.append(
                    MidiTap(
                        host_ns=host_ns,
                        channel=note_on.channel,
                        note=note_on.note,
                        velocity=note_on.velocity,
                        delta_s=self._delta_s,
                        saved_s=(arrived_ns - host_ns) / 1e9,
                    )
                )
                self._delta_s = 0.0
        return tuple(taps)


class MidiInputs:
    """All MIDI inputs of the system, at most one open; from the app's thread only."""

    def __init__(self, services: Sequence[Service] | None = None, clock: Callable[[], int] = now_ns) -> None:
        self._clock = clock
        self._watchers: list[tuple[Service, RawInput]] = []
        self._missing: list[Service] = list(system_services() if services is None else services)
        self._wanted = ""
        self._line: _OpenPort | None = None
        self._retired: list[_OpenPort] = []
        self._scanned_ns = self._asked_ns = clock()
        self._ask_missing()
        self._known = self.ports()

    @property
    def note(self) -> str:
        """Why there is no MIDI at all, as a sentence without a stop; empty when there is."""
        return "" if self._watchers else why_no_midi()

    def ports(self) -> tuple[str, ...]:
        """Return the names of all ports without their changing ids; the same name only once."""
        return tuple(dict.fromkeys(stable_name(raw) for _service, raw in self._raw_ports()))

    @property
    def can_be_played_into(self) -> bool:
        """Whether the system lets a program offer a port of its own."""
        return any(can_offer(watcher) for _service, watcher in self._watchers)

    @property
    def open_name(self) -> str:
        """The name of the open port; empty when none is open (it may have been unplugged)."""
        return "" if self._line is None else self._line.name

    def open(self, name: str) -> str:
        """Open a port by its remembered name or a part of it, and keep it open over replugging.

        Returns:
            The whole name.

        Raises:
            NoMidi: no service, no such port, several that fit, or the port is refused.
        """
        if self.note:
            raise NoMidi(self.note, "the rest works")
        found = VIRTUAL_NAME if name == VIRTUAL_NAME else self._named(name)
        self._wanted = "" if found == VIRTUAL_NAME else found
        if found != self.open_name:
            self._retire_open()
            self._line = self._again(found) or self._opened(found)
        return found

    def close(self) -> None:
        """Stop listening; the port itself is closed by a later :meth:`scan` or :meth:`end`, once quiet."""
        self._wanted = ""
        self._retire_open()

    def end(self, sleep: Callable[[float], None] = time.sleep) -> None:
        """Close everything before the program ends, waiting up to 0.3 s for a quiet spell.

        A service that is left without a word can hold up others: JACK waits 5 s for a client that has gone.
        """
        self.close()
        last = self._clock() + LONGEST_END_NS
        while self._retired:
            sleep(0.005)
            self._close_quiet(at_once=self._clock() > last)
        watchers, self._watchers = self._watchers, []
        self._missing.clear()
        for _service, watcher in watchers:
            with quiet_stderr():
                watcher.delete()

    def poll(self) -> tuple[MidiTap, ...]:
        """Return the taps that have arrived since the last call, in order."""
        return () if self._line is None else self._line.taps()

    @property
    def is_behind(self) -> bool:
        """Whether more has arrived than one look takes in."""
        return self._line is not None and self._line.is_behind

    def scan(self) -> tuple[PortNotice, ...]:
        """Look for ports that came or went, at most twice a second; open the wanted one when it is back."""
        now = self._clock()
        if now - self._scanned_ns < SCAN_NS:
            return ()
        self._scanned_ns = now
        self._close_quiet()
        if self._missing and self._line is None and now - self._asked_ns >= ASK_AGAIN_NS:
            self._asked_ns = now
            self._ask_missing()
        raw_names = [raw for _service, raw in self._raw_ports()]
        ports = tuple(dict.fromkeys(map(stable_name, raw_names)))
        came = [name for name in ports if name not in self._known]
        went = [name for name in self._known if name not in ports]
        self._known = ports
        if self._line is not None and self._line.raw_name and self._line.raw_name not in raw_names:
            # Gone, or back already under another id: either way this object hears nothing any more.
            self._retire_open(deaf=True)
        if self._wanted and self._line is None and self._wanted in ports:
            self._try_reopen()
        return tuple(
            [PortNotice(name=name, present=False) for name in went]
            + [PortNotice(name=name, present=True) for name in came]
        )

    def _raw_ports(self) -> list[tuple[Service, str]]:
        found: list[tuple[Service, str]] = []
        for service, watcher in self._watchers:
            # A port of ours that others play into is no source of taps.
            found += [
                (service, raw) for raw in listed(watcher) if not stable_name(raw).startswith(CLIENT_NAME)
            ]
        return found

    def _ask_missing(self) -> None:
        for service in tuple(self._missing):
            watcher = made(service)
            if watcher is not None:
                self._missing.remove(service)
                self._watchers.append((service, watcher))

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

    def _again(self, name: str) -> _OpenPort | None:
        """Return a line that was left and is not closed yet: some systems refuse to open it twice."""
        for line in self._retired:
            if line.name == name:
                self._retired.remove(line)
                line.begin()
                return line
        return None

    def _opened(self, name: str) -> _OpenPort:
        if name == VIRTUAL_NAME:
            offers = [service for service, watcher in self._watchers if can_offer(watcher)]
            if not offers:
                raise NoMidi(
                    "this system lets no program offer a MIDI port of its own", "play into a port there is"
                )
            return self._begin(offers[0], name, "")
        for service, raw_name in self._raw_ports():
            if stable_name(raw_name) == name:
                return self._begin(service, name, raw_name)
        raise NoMidi(f'the MIDI port "{name}" has gone', "plug it in again")

    def _begin(self, service: Service, name: str, raw_name: str) -> _OpenPort:
        """Open a port on a fresh input; an empty ``raw_name`` makes one that others play into."""
        raw = made(service)
        if raw is None:
            raise NoMidi("the MIDI service does not answer any more", "start the program again")
        line = _OpenPort(raw, self._clock)
        line.begin()
        try:
            with quiet_stderr():
                if raw_name:
                    # The place is looked up on the object that opens it: lists may differ by then.
                    raw.open_port(raw.get_ports().index(raw_name), "in")
                else:
                    raw.open_virtual_port("in")
        except LIBRARY_ERRORS as err:
            self._retired.append(line)
            raise NoMidi(
                f'the MIDI port "{name}" was refused',
                "another program may hold the pad; close it and try again",
            ) from err
        line.name, line.raw_name = name, raw_name
        return line

    def _try_reopen(self) -> None:
        try:
            self._line = self._opened(self._wanted)
        except NoMidi:
            # It may still be on its way in; the next scan tries again.
            self._line = None

    def _retire_open(self, *, deaf: bool = False) -> None:
        if self._line is not None:
            if deaf:
                self._line.name = ""
            self._retired.append(self._line)
        self._line = None

    def _close_quiet(self, *, at_once: bool = False) -> None:
        now = self._clock()
        self._retired = [
            line for line in self._retired if not ((at_once or line.is_quiet) and line.close_in_steps(now))
        ]
