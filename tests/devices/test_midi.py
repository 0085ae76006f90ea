"""Ports that are opened, come and go, with a fake driver."""

import os

import pytest

from tests.devices.fake_midi import MS, FakeSystem
from trainer.devices.midi import (
    ASK_AGAIN_NS,
    QUIET_NS,
    SCAN_NS,
    SETTLE_NS,
    VIRTUAL_NAME,
    MidiInputs,
    MidiTap,
    stable_name,
)
from trainer.errors import NoMidi


@pytest.mark.parametrize(
    ("raw", "windows", "stable"),
    [
        ("Pad:Pad MIDI 1 20:0", False, "Pad:Pad MIDI 1"),
        ("Pad:Pad MIDI 1 128:3", False, "Pad:Pad MIDI 1"),
        ("Pad (2)", False, "Pad"),
        ("Pad 1", True, "Pad"),
        ("Pad 1", False, "Pad 1"),
        ("2", True, "2"),
    ],
)
def test_names_lose_only_what_the_system_adds(raw: str, windows: bool, stable: str) -> None:
    assert stable_name(raw, windows=windows) == stable


def inputs_on(system: FakeSystem) -> MidiInputs:
    return MidiInputs([system.make], system.clock)


def test_all_ports_are_listed_and_one_is_opened_by_a_part_of_its_name() -> None:
    system = FakeSystem("Finger Pad:Finger Pad 20:0", "Stage Keys:Stage Keys 24:0")
    midi = inputs_on(system)
    assert midi.ports() == ("Finger Pad:Finger Pad", "Stage Keys:Stage Keys")
    assert midi.open("stage") == "Stage Keys:Stage Keys"
    system.send(0x90, 36, 100)
    (tap,) = midi.poll()
    assert (tap.note, tap.velocity, tap.channel, tap.delta_s) == (36, 100, 0, None)


def test_a_remembered_name_is_found_under_new_ids() -> None:
    midi = inputs_on(FakeSystem("Finger Pad:Finger Pad 131:0"))
    assert midi.open("Finger Pad:Finger Pad 20:0") == "Finger Pad:Finger Pad"


def test_a_name_that_fits_two_ports_or_none_is_refused_with_what_there_is() -> None:
    midi = inputs_on(FakeSystem("Pad A 20:0", "Pad B 21:0"))
    with pytest.raises(NoMidi, match="fits 2 MIDI ports: Pad A, Pad B"):
        midi.open("pad")
    with pytest.raises(NoMidi, match=r"no MIDI port is called .drum. \(ports: Pad A, Pad B\)"):
        midi.open("drum")


def test_a_port_held_by_another_program_is_said_to_be() -> None:
    system = FakeSystem("Pad 20:0")
    system.refuses = True
    with pytest.raises(NoMidi, match="another program may hold the pad"):
        inputs_on(system).open("Pad")


def test_no_service_leaves_one_sentence() -> None:
    system = FakeSystem("Pad 20:0")
    system.running = False
    midi = inputs_on(system)
    assert "MIDI is off" in midi.note
    assert (midi.ports(), midi.scan(), midi.poll()) == ((), (), ())
    with pytest.raises(NoMidi, match="MIDI is off"):
        midi.open("Pad")


def test_a_pad_that_bounces_taps_once_and_two_pads_tap_twice() -> None:
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    for at_ms, note in ((0, 36), (12, 36), (13, 38), (52, 36), (200, 36)):
        system.ns = at_ms * MS
        system.send(0x99, note, 90)
    assert [(tap.host_ns // MS, tap.note) for tap in midi.poll()] == [(0, 36), (13, 38), (52, 36), (200, 36)]


def test_ports_are_noticed_within_a_second_and_a_half_both_ways_and_opened_again() -> None:
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    system.unplug("Pad 20:0")
    gone = back = None
    for step in range(30):
        system.ns += 100 * MS
        for notice in midi.scan():
            assert not notice.present
            gone = step
    assert gone is not None
    assert gone * 100 <= 1500
    assert midi.open_name == ""
    assert any(each.closed for each in system.inputs)
    system.ports.append("Pad 25:0")
    for step in range(30):
        system.ns += 100 * MS
        for notice in midi.scan():
            assert notice.present
            back = step
    assert back is not None
    assert back * 100 <= 1500
    assert midi.open_name == "Pad"
    system.send(0x90, 40, 80)
    assert [tap.note for tap in midi.poll()] == [40]


def test_the_list_is_not_asked_for_more_than_twice_a_second() -> None:
    system = FakeSystem()
    midi = inputs_on(system)
    system.ports.append("Pad 20:0")
    system.ns = SCAN_NS - 1
    assert midi.scan() == ()
    system.ns = SCAN_NS
    assert len(midi.scan()) == 1


def test_a_port_is_closed_only_after_a_quiet_spell() -> None:
    """Closing joins the driver's thread, which may be waiting to deliver."""
    system = FakeSystem("Pad 20:0", "Keys 21:0")
    midi = inputs_on(system)
    midi.open("Pad")
    first = system.inputs[-1]
    system.ns = SCAN_NS - 1
    system.send(0x90, 36, 90)
    midi.open("Keys")
    system.ns = SCAN_NS
    midi.scan()
    assert not first.closed
    system.ns = 2 * SCAN_NS
    midi.scan()
    assert first.callback is None
    assert not first.closed
    system.ns = 3 * SCAN_NS
    midi.scan()
    assert first.closed
    assert first.deleted
    assert QUIET_NS == 50 * MS


def test_the_system_can_be_played_into_where_it_has_virtual_ports() -> None:
    assert inputs_on(FakeSystem()).can_be_played_into is (os.name != "nt")


def test_a_service_that_is_started_later_is_found() -> None:
    system = FakeSystem("Pad 20:0")
    system.running = False
    midi = inputs_on(system)
    system.running = True
    system.ns = ASK_AGAIN_NS
    assert [(notice.name, notice.present) for notice in midi.scan()] == [("Pad", True)]
    assert midi.note == ""


def test_a_service_that_stops_answering_has_no_ports() -> None:
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    system.ports_fail = True
    system.ns = SCAN_NS
    assert [(notice.name, notice.present) for notice in midi.scan()] == [("Pad", False)]
    with pytest.raises(NoMidi, match="no MIDI port is called"):
        midi.open("Pad")


def test_driver_times_run_from_tap_to_tap_over_what_lies_between() -> None:
    """The driver counts from message to message: here a note-off, a bounce and a pedal lie between taps."""
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    for at_ms, message, delta_s in (
        (0, (0x90, 36, 90), 0.0),
        (10, (0x90, 36, 40), 0.010),
        (50, (0x80, 36, 0), 0.040),
        (70, (0xB0, 64, 127), 0.020),
        (250, (0x90, 38, 90), 0.180),
    ):
        system.ns = at_ms * MS
        system.send(*message, delta_s=delta_s)
    first, second = midi.poll()
    assert first.delta_s is None
    assert second.delta_s == pytest.approx(0.250)
    assert second.host_ns - first.host_ns == 250 * MS


def test_a_port_that_was_left_is_not_heard_any_more() -> None:
    system = FakeSystem("Pad 20:0", "Keys 21:0")
    midi = inputs_on(system)
    midi.open("Pad")
    system.send(0x90, 36, 90, port="Pad")
    midi.open("Keys")
    system.send(0x90, 37, 90, port="Pad")
    system.send(0x90, 60, 90, port="Keys")
    assert [tap.note for tap in midi.poll()] == [60]
    midi.close()
    system.send(0x90, 61, 90, port="Keys")
    assert midi.poll() == ()
    assert midi.open_name == ""


def test_going_back_to_a_port_at_once_does_not_open_it_twice() -> None:
    """Windows refuses a second opening even to the program that holds the port."""
    system = FakeSystem("Pad 20:0", "Keys 21:0")
    midi = inputs_on(system)
    midi.open("Pad")
    midi.open("Keys")
    system.send(0x90, 36, 90, port="Pad")
    midi.open("Pad")
    assert len([each for each in system.inputs if each.opened == "Pad 20:0"]) == 1
    system.send(0x90, 37, 90, port="Pad")
    assert [(tap.note, tap.delta_s) for tap in midi.poll()] == [(37, None)]
    midi.open("Pad")
    assert len([each for each in system.inputs if each.opened == "Pad 20:0"]) == 1


def test_a_port_that_is_back_under_another_id_between_two_looks_is_opened_anew() -> None:
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    system.unplug("Pad 20:0")
    system.ports.append("Pad 24:0")
    system.ns = SCAN_NS
    assert midi.scan() == ()
    system.send(0x90, 36, 90)
    assert [tap.note for tap in midi.poll()] == [36]


def test_a_port_that_is_refused_on_its_return_is_tried_again() -> None:
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    system.unplug("Pad 20:0")
    system.pass_ms(500)
    midi.scan()
    system.ports.append("Pad 20:0")
    system.refuses = True
    system.pass_ms(500)
    assert [notice.present for notice in midi.scan()] == [True]
    assert midi.open_name == ""
    system.refuses = False
    system.pass_ms(500)
    midi.scan()
    assert midi.open_name == "Pad"


def test_the_end_waits_for_a_quiet_spell_and_closes_everything() -> None:
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    system.ns = 10 * MS
    system.send(0x90, 36, 90)
    line = system.inputs[-1]
    waited: list[float] = []

    def sleep(seconds: float) -> None:
        assert not line.closed
        waited.append(seconds)
        system.ns += int(seconds * 1e9)

    midi.end(sleep)
    assert line.closed
    assert all(each.deleted for each in system.inputs)
    assert (midi.ports(), midi.poll(), midi.open_name) == ((), (), "")
    midi.end(sleep)
    assert QUIET_NS + SETTLE_NS < sum(waited) * 1e9 < QUIET_NS + SETTLE_NS + 15 * MS


def test_the_end_comes_even_when_a_port_is_never_quiet() -> None:
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    line = system.inputs[-1]

    def sleep(seconds: float) -> None:
        system.ns += int(seconds * 1e9)
        system.send(0xB0, 1, 1)

    midi.end(sleep)
    assert line.closed
    assert system.ns <= 400 * MS


def test_a_port_of_our_own_is_opened_by_its_name_and_not_looked_for() -> None:
    system = FakeSystem("Pad 20:0", "Thumbfall:in 130:0")
    midi = inputs_on(system)
    assert midi.ports() == ("Pad",)
    assert midi.open(VIRTUAL_NAME) == VIRTUAL_NAME
    system.ns = SCAN_NS
    midi.scan()
    system.send(0x90, 36, 90)
    assert [tap.note for tap in midi.poll()] == [36]


def test_a_driver_with_times_of_its_own_takes_our_lateness_off_a_tap_and_both_are_kept() -> None:
    """Every fourth message is heard 2 ms late; the driver knows better, and is believed after a while."""
    system = FakeSystem("Pad 20:0")
    midi = inputs_on(system)
    midi.open("Pad")
    apart_ns = 100_300_000  # whole milliseconds would be taken for a driver that rounds
    taps: list[MidiTap] = []
    for n in range(80):
        system.ns = n * apart_ns + (2 * MS if n % 4 == 3 else 0)
        system.send(0x90, 36, 90, delta_s=0.1003 if n else 0.0)
        taps += midi.poll()
    late_ns = [tap.host_ns - n * apart_ns for n, tap in enumerate(taps)]
    assert late_ns[:8] == [0, 0, 0, 2 * MS] * 2
    assert max(late_ns[40:]) < MS // 100
    assert [round(tap.saved_s * 1000) for tap in taps[40:]] == [0, 0, 0, 2] * 10
