"""A MIDI system without a driver that notes what is sent to it, and when."""

from collections.abc import Sequence


class FakeSystem:
    """A MIDI system that notes what is sent, and when."""

    def __init__(self, *ports: str) -> None:
        self.ports = list(ports)
        self.sent: list[tuple[int, tuple[int, ...]]] = []
        self.ns = 0
        self.refuses = self.fails = False
        self.open = 0

    def clock(self) -> int:
        return self.ns

    def make(self) -> "FakeOutput":
        return FakeOutput(self)


class FakeOutput:
    def __init__(self, system: FakeSystem) -> None:
        self.system = system
        self.deleted = False

    def get_ports(self) -> list[str]:
        assert not self.deleted
        return list(self.system.ports)

    def open_port(self, port: int, name: str) -> object:  # noqa: ARG002 - as the library has it
        if self.system.refuses:
            raise OSError("held")
        self.system.open += 1
        return self

    def open_virtual_port(self, name: str) -> object:
        return self.open_port(0, name)

    def send_message(self, message: Sequence[int]) -> None:
        assert not self.deleted
        if self.system.fails:
            raise RuntimeError("gone")
        self.system.sent.append((self.system.ns, tuple(message)))

    def close_port(self) -> None:
        self.system.open -= 1

    def delete(self) -> None:
        self.deleted = True
