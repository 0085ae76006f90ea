"""Notes of our own that go out and come back, on a MIDI system that a test makes."""

from __future__ import annotations

from typing import cast

import pytest

from tests.devices.fake_midi import FakeSystem
from trainer.devices import loopback
from trainer.devices.loopback import NOTES, Loopback
from trainer.devices.midi import MidiInputs
from trainer.devices.midi_library import RawOutput
from trainer.errors import NoMidi

WAY_NS = 700_000
NOTE_ON = 0x90


class FakeOutput:
    """Hands each note to the inputs of a system, some time later by its clock."""

    def __init__(self, system: FakeSystem) -> None:
        self.system = system
        self.deleted = False
        self.loses: set[int] = set()

    def get_ports(self) -> list[str]:
        return []

    def open_port(self, port: int, name: str) -> object:
        return port, name

    def send_message(self, message: list[int]) -> None:
        self.system.ns += WAY_NS
        if message[1] not in self.loses:
            self.system.send(*message)

    def delete(self) -> None:
        self.deleted = True


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch) -> FakeSystem:
    made = FakeSystem()
    monkeypatch.setattr(loopback, "now_ns", made.clock)
    return made


def loop_on(system: FakeSystem, output: FakeOutput) -> Loopback:
    return Loopback(MidiInputs(services=(system.make,), clock=system.clock), lambda: cast(RawOutput, output))


def test_each_note_comes_back_with_the_time_that_it_took(system: FakeSystem) -> None:
    loop = loop_on(system, FakeOutput(system))
    for _ in range(10):
        system.pass_ms(50)
        loop.send()
        loop.hear()
    assert loop.sent == 10
    assert [trip.way_s for trip in loop.trips] == [WAY_NS / 1e9] * 10
    assert {trip.saved_s for trip in loop.trips} == {0.0}


def test_a_note_that_is_lost_is_sent_and_not_heard_and_shifts_no_other(system: FakeSystem) -> None:
    output = FakeOutput(system)
    output.loses = {3, 4}
    loop = loop_on(system, output)
    for _ in range(NOTES + 10):
        system.pass_ms(50)
        loop.send()
        loop.hear()
    assert (loop.sent, len(loop.trips)) == (NOTES + 10, NOTES + 10 - 4)
    assert {round(trip.way_s * 1e9) for trip in loop.trips} == {WAY_NS}


def test_the_end_gives_both_ports_back_and_takes_in_what_was_on_its_way(
    system: FakeSystem, monkeypatch: pytest.MonkeyPatch
) -> None:
    output = FakeOutput(system)
    loop = loop_on(system, output)
    loop.send()
    monkeypatch.setattr("time.sleep", lambda _s: system.pass_ms(50))
    inputs = loop._inputs
    monkeypatch.setattr(inputs, "end", lambda: MidiInputs.end(inputs, lambda _s: system.pass_ms(50)))
    loop.end()
    assert len(loop.trips) == 1
    assert output.deleted
    assert all(each.deleted for each in system.inputs)


def test_a_system_without_midi_is_said_so(system: FakeSystem) -> None:
    with pytest.raises(NoMidi, match=r"offers no MIDI service|no MIDI library is installed"):
        Loopback(MidiInputs(services=(), clock=system.clock), lambda: cast(RawOutput, FakeOutput(system)))


def test_a_port_that_nothing_can_play_into_is_said_so_and_given_back(system: FakeSystem) -> None:
    inputs = MidiInputs(services=(system.make,), clock=system.clock)
    inputs_end = inputs.end
    ended: list[bool] = []

    def end() -> None:
        ended.append(True)
        inputs_end(lambda _s: system.pass_ms(50))

    inputs.end = end  # type: ignore[method-assign,assignment]
    with pytest.raises(NoMidi, match="could not be played into"):
        Loopback(inputs, lambda: None)
    assert ended == [True]
    assert all(each.deleted for each in system.inputs)
