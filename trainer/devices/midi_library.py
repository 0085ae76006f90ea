"""What every MIDI library must offer to the rest of the house: inputs, outputs, and why it is not there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

CLIENT_NAME = "Thumbfall"

OnMessage = Callable[[tuple[list[int], float], object], None]
"""Takes ``((bytes, seconds since the message before), None)`` on a thread of the library's."""


class RawInput(Protocol):
    """One input of a MIDI service; the names are python-rtmidi's. A test writes its own."""

    def get_ports(self) -> list[str]:
        """Return the names of the ports that can be opened."""

    def open_port(self, port: int, name: str) -> object:
        """Open a port by its place in the list; raises one of the library's errors when it is refused."""

    def open_virtual_port(self, name: str) -> object:
        """Make a port that others can play into."""

    def set_callback(self, func: OnMessage) -> None:
        """Call a function on the driver's thread for each message."""

    def cancel_callback(self) -> None:
        """Call it no more."""

    def close_port(self) -> None:
        """Close the port; the callback must have been cancelled."""

    def delete(self) -> None:
        """End the client; nothing may be called afterwards. Just dropping it may end nothing."""


class RawOutput(Protocol):
    """One output of a MIDI service."""

    def get_ports(self) -> list[str]:
        """Return the names of the ports that can be opened."""

    def open_port(self, port: int, name: str) -> object:
        """Open a port by its place in the list; raises one of the library's errors when it is refused."""

    def open_virtual_port(self, name: str) -> object:
        """Make a port that others can listen to."""

    def send_message(self, message: Sequence[int]) -> None:
        """Send one message now."""

    def close_port(self) -> None:
        """Close the port."""

    def delete(self) -> None:
        """End the client; nothing may be called afterwards."""


Service = Callable[[], RawInput]
"""Makes a fresh unopened input on one of the system's MIDI services; raises when there is none."""

OutService = Callable[[], RawOutput]
"""The same for an output."""


class InputServices(Protocol):
    """Makes the services for input under a client's name."""

    def __call__(self, client_name: str = CLIENT_NAME) -> tuple[Service, ...]:
        """Return one service for each of the system's that the library knows."""


class OutputServices(Protocol):
    """Makes the services for output under a client's name."""

    def __call__(self, client_name: str = CLIENT_NAME) -> tuple[OutService, ...]:
        """Return one service for each of the system's that the library knows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MidiLibrary:
    """One MIDI library.

    Attributes:
        name: what pip calls it.
        why_not: what its import complained of; empty when it loaded.
        inputs, outputs: its services, in the order in which they are asked.
    """

    name: str
    why_not: str
    inputs: InputServices
    outputs: OutputServices
