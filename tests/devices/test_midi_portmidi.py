"""PortMidi behind the shared protocols, with a pygame.midi of our own that lists and polls as documented."""

import time
from collections.abc import Iterator

import pytest

from trainer.devices import midi_portmidi
from trainer.devices.clock import now_ns
from trainer.devices.midi import SCAN_NS, VIRTUAL_NAME, MidiInputs, MidiTap
from trainer.devices.midi_out import MidiOut
from trainer.devices.midi_portmidi import LIST_AGAIN_NS, message_of
from trainer.errors import NoMidi

GIVE_UP_S = 5.0


class MidiException(Exception):
    """As pygame.midi raises."""


class FakeMidi:
    """pygame.midi: a list that is made when it is begun, polled inputs, outputs that send at once."""

    MidiException = MidiException

    def __init__(self) -> None:
        self.plugged: list[tuple[str, int, int]] = [("Midi Through", 0, 1), ("Pad", 1, 0), ("Synth", 0, 1)]
        self.listed: list[tuple[str, int, int]] = []
        self.begun = False
        self.beginnings = 0
        self.events: list[tuple[list[int], int]] = []
        self.sent: list[tuple[int, ...]] = []
        self.refuses = False
        self.inputs: list[FakeMidi._Input] = []

    def init(self) -> None:
        assert not self.begun
        self.begun, self.listed = True, list(self.plugged)
        self.beginnings += 1

    def quit(self) -> None:
        assert not any(each.is_open for each in self.inputs), "ended while a port is open"
        self.begun = False

    def get_init(self) -> bool:
        return self.begun

    def get_count(self) -> int:
        assert self.begun
        return len(self.listed)

    def get_device_info(self, number: int) -> tuple[bytes, bytes, int, int, int] | None:
        if not 0 <= number < len(self.listed):
            return None
        name, is_input, is_output = self.listed[number]
        return b"ALSA", name.encode(), is_input, is_output, 0

    class _Input:
        def __init__(self, system: "FakeMidi") -> None:
            self.system, self.is_open = system, True

        def poll(self) -> bool:
            return bool(self.system.events)

        def read(self, most: int) -> list[tuple[list[int], int]]:
            found, self.system.events = self.system.events[:most], self.system.events[most:]
            return found

        def close(self) -> None:
            self.is_open = False

    class _Output:
        def __init__(self, system: "FakeMidi") -> None:
            self.system = system

        def write_short(self, status: int, data1: int = 0, data2: int = 0) -> None:
            self.system.sent.append((status, data1, data2))

        def close(self) -> None:
            """Close."""

    def Input(self, number: int) -> "FakeMidi._Input":  # noqa: N802 - as the library has it
        assert self.listed[number][1]
        if self.refuses:
            raise MidiException("Host error")
        self.inputs.append(self._Input(self))
        return self.inputs[-1]

    def Output(self, number: int) -> "FakeMidi._Output":  # noqa: N802 - as the library has it
        assert self.listed[number][2]
        return self._Output(self)


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch) -> Iterator[FakeMidi]:
    fake = FakeMidi()
    monkeypatch.setattr(midi_portmidi, "midi", fake)
    monkeypatch.setattr(midi_portmidi, "_lists", midi_portmidi._Lists())
    yield fake
    assert not any(each.is_open for each in fake.inputs)


def heard(inputs: MidiInputs, count: int) -> list[MidiTap]:
    """Return what is heard until there is as much as wanted: a thread of its own looks for it."""
    taps: list[MidiTap] = []
    end = time.monotonic() + GIVE_UP_S
    while len(taps) < count and time.monotonic() < end:
        taps += inputs.poll()
        time.sleep(0.001)
    return taps


def test_notes_are_heard_in_order_with_the_drivers_whole_milliseconds(system: FakeMidi) -> None:
    inputs = MidiInputs(midi_portmidi.inputs())
    assert inputs.ports() == ("Pad",)
    inputs.open("pad")
    begun_ns = now_ns()
    system.events = [([0x90, 60, 100, 0], 1000), ([0xF8, 0, 0, 0], 1010), ([0x91, 62, 90, 0], 1070)]
    taps = heard(inputs, 2)
    inputs.end()
    assert [(tap.channel, tap.note, tap.velocity) for tap in taps] == [(0, 60, 100), (1, 62, 90)]
    assert taps[1].delta_s == pytest.approx(0.070)
    assert taps[0].host_ns >= begun_ns


@pytest.mark.parametrize(
    ("event", "message"),
    [
        ([0x90, 60, 1, 0], [0x90, 60, 1]),
        ([0xC3, 5, 0, 0], [0xC3, 5]),
        ([0xD0, 5, 0, 0], [0xD0, 5]),
        ([0xE0, 1, 2, 0], [0xE0, 1, 2]),
        ([0xF2, 1, 2, 0], [0xF2, 1, 2]),
        ([0xF3, 1, 0, 0], [0xF3, 1]),
        ([0xF8, 0, 0, 0], [0xF8]),
    ],
)
def test_of_four_bytes_only_those_of_the_message_are_taken(event: list[int], message: list[int]) -> None:
    """Lengths as in MIDI 1.0, table of status bytes."""
    assert message_of(event) == message


def test_the_list_is_made_anew_while_nothing_is_open_and_left_alone_while_something_is(
    system: FakeMidi, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = [0]
    monkeypatch.setattr("trainer.devices.midi_portmidi.time.perf_counter_ns", lambda: at[0])
    inputs = MidiInputs(midi_portmidi.inputs(), clock=lambda: at[0])
    system.plugged.append(("Second pad", 1, 0))
    assert inputs.ports() == ("Pad",)
    at[0] += LIST_AGAIN_NS + 1
    assert [(n.name, n.present) for n in inputs.scan()] == [("Second pad", True)]
    inputs.open("Second pad")
    system.plugged.append(("Third pad", 1, 0))
    at[0] += LIST_AGAIN_NS + SCAN_NS
    assert inputs.scan() == ()
    inputs.close()
    for _ in range(3):  # hushed, closed once that has settled, then listed anew
        at[0] += LIST_AGAIN_NS + SCAN_NS
        inputs.scan()
    assert "Third pad" in inputs.ports()
    inputs.end()


def test_a_refused_port_and_a_port_of_our_own_are_said_in_a_sentence(system: FakeMidi) -> None:
    inputs = MidiInputs(midi_portmidi.inputs())
    assert not inputs.can_be_played_into
    with pytest.raises(NoMidi, match="no program offer a MIDI port of its own"):
        inputs.open(VIRTUAL_NAME)
    system.refuses = True
    with pytest.raises(NoMidi, match='"Pad" was refused'):
        inputs.open("Pad")
    inputs.end()


def test_messages_of_all_lengths_are_sent(system: FakeMidi) -> None:
    out = MidiOut(midi_portmidi.outputs(), threaded=False)
    assert out.ports() == ("Midi Through", "Synth")
    assert not out.can_offer
    out.open("Synth")
    raw = out._raw
    assert raw is not None
    for message in ((0x90, 60, 1), (0xC0, 5), (0xF8,)):
        raw.send_message(message)
    out.end()
    assert system.sent == [(0x90, 60, 1), (0xC0, 5, 0), (0xF8, 0, 0)]


def test_without_alsas_sequencer_there_is_no_service(
    system: FakeMidi, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.devices.midi_portmidi.sys.platform", "linux")
    system.plugged = []
    inputs = MidiInputs(midi_portmidi.inputs())
    assert inputs.note.startswith("MIDI is off: ")
    inputs.end()
