"""Send notes out of one MIDI port and hear them through another, both our own, to see how they are timed."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from trainer.devices.clock import now_ns
from trainer.devices.midi import VIRTUAL_NAME, MidiInputs
from trainer.devices.midi_library import CLIENT_NAME, RawOutput
from trainer.devices.midi_services import output_to
from trainer.errors import NoMidi

NOTES = 128
# As a player's taps fall: neither in step with a server's periods nor with frames.
APART_S = (0.043, 0.061, 0.037, 0.089, 0.053, 0.071, 0.047)
VELOCITY = 64
SENDER = f"{CLIENT_NAME} checkup"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """One note that came back: seconds from sending to stamp, and what was taken off its arrival."""

    way_s: float
    saved_s: float


class Loopback:
    """A port of our own and a thread that plays into it.

    Raises:
        NoMidi: there is no library, no service, or no port of our own to be had.
    """

    def __init__(
        self, inputs: MidiInputs | None = None, output: Callable[[], RawOutput | None] | None = None
    ) -> None:
        self.sent = 0
        self.trips: list[Trip] = []
        self._sent_ns: dict[int, int] = {}
        self._inputs = MidiInputs() if inputs is None else inputs
        self._out: RawOutput | None = None
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._play, name="MIDI loopback", daemon=True)
        try:
            self._open(output or _system_output)
        except BaseException:
            self._inputs.end()
            raise

    def _open(self, output: Callable[[], RawOutput | None]) -> None:
        if not self._inputs.note and not self._inputs.can_be_played_into:
            raise NoMidi("this system lets no program offer a MIDI port of its own", "the rest works")
        self._inputs.open(VIRTUAL_NAME)
        self._out = output()
        if self._out is None:
            raise NoMidi("the MIDI port of our own could not be played into", "the rest works")

    def start(self) -> None:
        """Begin to play, some sixteen notes a second."""
        self._thread.start()

    def send(self) -> None:
        """Play one note, from any one thread."""
        assert self._out is not None
        note = self.sent % NOTES
        self.sent += 1
        self._sent_ns[note] = now_ns()
        self._out.send_message([0x90, note, VELOCITY])

    def hear(self) -> None:
        """Take in what has come back; from the thread that made this object."""
        for tap in self._inputs.poll():
            sent_ns = self._sent_ns.pop(tap.note, None)
            if sent_ns is not None:
                self.trips.append(Trip(way_s=(tap.host_ns - sent_ns) / 1e9, saved_s=tap.saved_s))

    def end(self) -> None:
        """End playing, wait for what is on its way, and close both ports."""
        self._ending.set()
        if self._thread.is_alive():
            self._thread.join()
        self._ending.clear()
        self._ending.wait(0.1)
        self.hear()
        if self._out is not None:
            self._out.delete()
        self._inputs.end()

    def _play(self) -> None:
        while not self._ending.wait(APART_S[self.sent % len(APART_S)]):
            self.send()


def _system_output() -> RawOutput | None:
    return output_to(CLIENT_NAME, SENDER)
