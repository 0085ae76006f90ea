"""A MIDI system without a driver, whose ports a test plugs and unplugs."""

from collections.abc import Callable

from trainer.devices.midi_library import RawInput

MS = 1_000_000


Callback = Callable[[tuple[list[int], float], object], None]


class FakeSystem:
    """A MIDI system whose ports a test plugs and unplugs.

    An input hears what its port sends until it is closed, or until the port has been unplugged once: after
    that the real ones stay deaf (issues 61 and 98 of python-rtmidi).
    """

    def __init__(self, *ports: str) -> None:
        self.ports = list(ports)
        self.inputs: list[FakeInput] = []
        self.refuses = False
        self.running = True
        self.ports_fail = False
        self.ns = 0

    def make(self) -> RawInput:
        if not self.running:
            raise OSError("no sequencer")
        made = FakeInput(self)
        self.inputs.append(made)
        return made

    def clock(self) -> int:
        return self.ns

    def send(self, *message: int, delta_s: float = 0.0, port: str = "") -> None:
        for each in self.inputs:
            if each.opened and each.callback is not None and port in each.opened:
                each.callback((list(message), delta_s), None)

    def unplug(self, port: str) -> None:
        self.ports.remove(port)
        for each in self.inputs:
            if each.opened == port:
                each.callback = None

    def pass_ms(self, ms: int) -> None:
        self.ns += ms * MS


class FakeInput:
    def __init__(self, system: FakeSystem) -> None:
        self.system = system
        self.opened = ""
        self.closed = self.deleted = False
        self.callback: Callback | None = None

    def get_ports(self) -> list[str]:
        assert not self.deleted
        if self.system.ports_fail:
            raise RuntimeError("the server has gone")
        return list(self.system.ports)

    def open_port(self, port: int, name: str) -> object:
        if self.system.refuses:
            raise RuntimeError("MidiInWinMM::openPort: error creating Windows MM MIDI input port")
        self.opened = self.system.ports[port]
        return name

    def open_virtual_port(self, name: str) -> object:
        self.opened = name
        return name

    def set_callback(self, func: Callback) -> None:
        self.callback = func

    def cancel_callback(self) -> None:
        self.callback = None

    def close_port(self) -> None:
        assert not self.deleted
        assert self.callback is None
        self.closed, self.opened = True, ""

    def delete(self) -> None:
        assert not self.deleted
        assert self.closed or not self.opened
        self.deleted = True
