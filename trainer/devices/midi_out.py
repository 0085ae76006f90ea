"""Send MIDI in time from a thread of its own, and see the port go and come back.

What is due when is a pure function of the stream (sound.midi_out); here song seconds become host time. The
app says once a frame which second is heard at which host time; between two words the song goes on at the
host's speed. The thread sleeps until the next message is due and sends it; nothing is sent ahead, for
no MIDI library that we use can give a message its time. What the player taps is sent on at once, from the
app's thread.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence

from trainer.devices.clock import now_ns
from trainer.devices.midi import SCAN_NS, stable_name
from trainer.devices.midi_library import CLIENT_NAME, OutService, RawOutput
from trainer.devices.midi_services import LIBRARY_ERRORS, can_offer, listed, system_outputs, why_no_midi
from trainer.devices.quiet import quiet_stderr
from trainer.errors import NoMidi
from trainer.sound.midi_out import Message, Sending, due_messages, echo, opening, seek
from trainer.sound.plan import StreamPlan

OFFERED_NAME = "Thumbfall port (other programs can listen to it)"
AHEAD_S = 0.025  # how far the coming messages are worked out
SOON_S = 0.0002  # a message due so soon is sent now
LOST_S = 0.25  # a message late by more is of no use: followers are placed anew
LONGEST_SLEEP_S = 0.010
SHORTEST_SLEEP_S = 0.0002
NOTE_OFF, NOTE_ON, STOP = 0x80, 0x90, 0xFC


class MidiOut:
    """One MIDI output; its methods are for the app's thread.

    Attributes:
        open_name: the port in use; empty when there is none, or when it was unplugged.
        lost: how often followers had to be placed anew since the start, because messages came too late.
    """

    def __init__(
        self,
        services: Sequence[OutService] | None = None,
        clock: Callable[[], int] = now_ns,
        *,
        threaded: bool = True,
    ) -> None:
        self.open_name = ""
        self.lost = 0
        self._clock = clock
        self._threaded = threaded
        self._services = tuple(system_outputs() if services is None else services)
        self._watchers: list[tuple[OutService, RawOutput]] | None = None
        self._raw: RawOutput | None = None
        self._raw_name = self._wanted = ""
        self._scanned_ns = clock()
        self._lock = threading.Lock()
        self._plan: StreamPlan | None = None
        self._sending = Sending()
        self._anchor_ns, self._anchor_s = 0, 0.0
        self._next_s = 0.0  # up to here messages have been worked out
        self._queue: list[Message] = []
        self._echoes: list[tuple[int, tuple[int, ...]]] = []  # (host time, message), ends of tapped notes
        self._sounding: set[tuple[int, int]] = set()
        self._broken = False
        self._closing = False
        self._work = threading.Event()
        self._thread: threading.Thread | None = None

    # Ports

    @property
    def note(self) -> str:
        """Why nothing can be sent at all, as a sentence without a stop; empty when something can."""
        return "" if self._watching() else why_no_midi()

    def ports(self) -> tuple[str, ...]:
        """Return the names of the ports that can be sent to, without their changing ids."""
        return tuple(dict.fromkeys(stable_name(raw) for _service, raw in self._raw_ports()))

    @property
    def can_offer(self) -> bool:
        """Whether the system lets a program offer a port that others listen to."""
        return any(can_offer(watcher) for _service, watcher in self._watching())

    def open(self, name: str) -> str:
        """Send to a port from now on, by its remembered name; return the name.

        Raises:
            NoMidi: no service, no such port, or the port is refused.
        """
        if self.note:
            raise NoMidi(self.note, "the rest works")
        self.close()
        self._wanted = name
        self._open_wanted()
        return name

    def close(self) -> None:
        """Send nothing any more."""
        self.stop()
        with self._lock:
            raw, self._raw, self._raw_name, self.open_name, self._wanted = self._raw, None, "", "", ""
            self._broken = False
        if raw is not None:
            with quiet_stderr():
                raw.close_port()
                raw.delete()

    def scan(self) -> str:
        """Look twice a second whether the port is still there; return a sentence when it has gone or come."""
        now = self._clock()
        if not self._wanted or now - self._scanned_ns < SCAN_NS:
            return ""
        self._scanned_ns = now
        if self._raw is not None and self._raw_name:
            gone = self._broken or self._raw_name not in [raw for _service, raw in self._raw_ports()]
            if gone:
                wanted = self._wanted
                self.close()
                self._wanted = wanted
                return f'The MIDI port "{wanted}" was unplugged; plug it in again and sending goes on.'
        elif self._raw is None and self._wanted in self.ports():
            try:
                self._open_wanted()
            except NoMidi:
                return ""  # still on its way in; the next look tries again
            return f'The MIDI port "{self._wanted}" is back.'
        return ""

    def end(self) -> None:
        """Close everything before the program ends."""
        self.close()
        self._closing = True
        self._work.set()
        if self._thread is not None:
            self._thread.join()
        for _service, watcher in self._watchers or []:
            with quiet_stderr():
                watcher.delete()
        self._watchers = []

    # The stream

    def start(self, plan: StreamPlan, sending: Sending, host_ns: int, song_s: float) -> None:
        """Begin to send what belongs to a stream whose second ``song_s`` is heard at ``host_ns``."""
        if self._raw is None:
            return
        self.stop()
        with self._lock:
            self._plan, self._sending, self.lost = plan, sending, 0
            self._anchor_ns, self._anchor_s = host_ns, song_s
            self._next_s = self._song_s(self._clock())
            self._queue = []
            for data in opening(sending):
                self._send(data)
        if self._threaded and self._thread is None:
            self._thread = threading.Thread(target=self._run, name="midi out", daemon=True)
            self._thread.start()
        self._work.set()

    def follow(self, plan: StreamPlan, host_ns: int, song_s: float) -> None:
        """Say once a frame what plays and which second of it is heard; a change of tempo comes in here."""
        with self._lock:
            if self._plan is not None:
                self._plan, self._anchor_ns, self._anchor_s = plan, host_ns, song_s

    def stop(self) -> None:
        """End the stream: every note that sounds is ended, and followers are stopped."""
        self._work.clear()
        with self._lock:
            plan, self._plan = self._plan, None
            self._queue, self._echoes = [], []
            if plan is None and not self._sounding:
                return
            for channel, note in sorted(self._sounding):
                self._send((NOTE_OFF | channel, note, 0))
            if plan is not None and self._sending.clock:
                self._send((STOP,))

    def tap(self, notes: Sequence[int], velocity: int, host_ns: int) -> None:
        """Send a tap on as notes, at once, and their ends a little later."""
        with self._lock:
            if self._plan is None:
                return
            for message in echo(notes, velocity, 0.0, self._sending):
                if message.due_s:
                    self._echoes.append((host_ns + round(message.due_s * 1e9), message.data))
                else:
                    self._send(message.data)

    def look(self) -> float:
        """Send what is due and return how long to sleep in seconds."""
        with self._lock:
            now = self._clock()
            while self._echoes and self._echoes[0][0] <= now:
                self._send(self._echoes.pop(0)[1])
            if self._plan is None:
                return LONGEST_SLEEP_S
            now_s = self._song_s(now)
            if now_s - self._next_s > LOST_S:
                self._place_anew(self._plan, now_s)
            if self._next_s < now_s + AHEAD_S:
                coming = due_messages(self._plan, self._sending, self._next_s, now_s + AHEAD_S)
                self._queue += coming
                self._next_s = now_s + AHEAD_S
            while self._queue and self._queue[0].due_s <= now_s + SOON_S:
                self._send(self._queue.pop(0).data)
            wait_s = self._queue[0].due_s - now_s if self._queue else AHEAD_S / 2
            return min(max(wait_s, SHORTEST_SLEEP_S), LONGEST_SLEEP_S)

    def _run(self) -> None:
        while not self._closing:
            self._work.wait()
            time.sleep(self.look())

    def _song_s(self, host_ns: int) -> float:
        return self._anchor_s + (host_ns - self._anchor_ns) / 1e9

    def _place_anew(self, plan: StreamPlan, now_s: float) -> None:
        self.lost += 1
        self._queue = []
        for channel, note in sorted(self._sounding):
            self._send((NOTE_OFF | channel, note, 0))
        data, self._next_s = seek(plan, self._sending, now_s)
        for each in data:
            self._send(each)

    def _send(self, data: tuple[int, ...]) -> None:
        if self._raw is None or self._broken:
            return
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        if kind == NOTE_ON:
            self._sounding.add((channel, data[1]))
        elif kind == NOTE_OFF:
            self._sounding.discard((channel, data[1]))
        try:
            self._raw.send_message(data)
        except LIBRARY_ERRORS:
            self._broken = True  # the next scan says so

    # The system's lists

    def _watching(self) -> list[tuple[OutService, RawOutput]]:
        """Return the unopened outputs that the lists are read from; made when first asked for."""
        if self._watchers is None:
            self._watchers = []
            for service in self._services:
                try:
                    with quiet_stderr():
                        self._watchers.append((service, service()))
                except LIBRARY_ERRORS:
                    continue  # this service is not there
        return self._watchers

    def _raw_ports(self) -> list[tuple[OutService, str]]:
        found: list[tuple[OutService, str]] = []
        for service, watcher in self._watching():
            # A port of ours that others play into is no place to send to.
            found += [
                (service, raw) for raw in listed(watcher) if not stable_name(raw).startswith(CLIENT_NAME)
            ]
        return found

    def _open_wanted(self) -> None:
        name = self._wanted
        found = [(service, raw) for service, raw in self._raw_ports() if stable_name(raw) == name]
        if name == OFFERED_NAME and self.can_offer:
            found = [(service, "") for service, watcher in self._watching() if can_offer(watcher)]
        if not found:
            there = ", ".join(self.ports()) or "none"
            raise NoMidi(
                f'no MIDI port to send to is called "{name}" (ports: {there})', "plug it in or choose another"
            )
        service, raw_name = found[0]
        try:
            with quiet_stderr():
                raw = service()
                if raw_name:
                    raw.open_port(raw.get_ports().index(raw_name), "out")
                else:
                    raw.open_virtual_port("out")
        except LIBRARY_ERRORS as err:
            raise NoMidi(
                f'the MIDI port "{name}" was refused', "another program may hold it; close that and try again"
            ) from err
        with self._lock:
            self._raw, self._raw_name, self.open_name, self._broken = raw, raw_name, name, False
